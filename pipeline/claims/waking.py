"""Wake whoever does due work, once the rows are committed. A call that is lost costs a minute."""

from __future__ import annotations

import logging
import threading

from celery import current_app
from django.conf import settings
from django.db import connection, transaction
from kombu.exceptions import OperationalError

log = logging.getLogger(__name__)

DRAIN = "pipeline.followups.tasks.drain"

# On one machine the ticker waits for it.
bell = threading.Event()


def wake() -> None:
    """Have due work looked for as soon as this transaction is committed; once however often."""
    if not any(ring in kept for kept in connection.run_on_commit):
        transaction.on_commit(ring, robust=True)


def ring(workers: int = 1) -> None:
    """Wake so many workers now. Never fails: what nobody was woken for is found by a round."""
    if settings.REDIS_URL is None:
        bell.set()
        return
    try:
        for _ in range(workers):
            current_app.send_task(DRAIN, retry=False, ignore_result=True)
    except OperationalError:
        log.warning("no worker was woken; the next round finds what is due")
