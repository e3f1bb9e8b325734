"""Celery's way to what takes longer than a page may."""

import logging

from celery import shared_task
from django.conf import settings
from kombu.exceptions import OperationalError

from pipeline.clock import moment

from .takeaways.batches import set_waiting

log = logging.getLogger(__name__)


@shared_task(name="sessions.tasks.set_batch")
def set_batch(batch: int) -> None:
    """Set what waits of one batch."""
    set_waiting(moment.now(), batch)


def wake_for(batch: int) -> None:
    """Wake a worker, where there are any; else the next round of due work finds the rows."""
    if settings.REDIS_URL is None:
        return
    try:
        set_batch.apply_async((batch,), retry=False)
    except OperationalError:
        log.warning("no worker was woken for batch %s; the next round sets it", batch)
