"""Whether the program can do its work: what it needs, asked one by one."""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from functools import cache

import redis
from django.conf import settings
from django.db import connection
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder

from .waiting import KINDS, oldest

log = logging.getLogger(__name__)

# Due work is begun within a minute; so long after its moment nobody seems to be doing it.
LIMIT = timedelta(minutes=10)
# Seconds until a server counts as away.
PATIENCE = 3


class NotReady(Exception):
    """What is missing, in words that give nothing away."""


def checks(clock: Callable[[], datetime]) -> Iterator[tuple[str, bool, str]]:
    """Return the name of each check, whether it holds, and what was found.

    Without the database the questions that need it are not asked; nor is ``clock``, the one that
    all workers share.
    """
    answered, said = _asked(database)
    yield "database", answered, said
    for name, ask in (("migrations", migrations), ("due work", lambda: due_work(clock()))):
        yield name, *(_asked(ask) if answered else (False, "not asked: no database"))
    yield "broker", *_asked(broker)


def _asked(ask: Callable[[], str]) -> tuple[bool, str]:
    try:
        return True, ask()
    except NotReady as missing:
        return False, str(missing)
    except Exception as error:
        log.warning("a check of readiness failed: %s", type(error).__name__)
        return False, "no answer"


def database() -> str:
    """Ask on a connection of its own, which waits for no other and gives up soon."""
    probe = connection.copy()
    options = {k: v for k, v in probe.settings_dict["OPTIONS"].items() if k != "pool"}
    if probe.vendor == "postgresql":
        options["connect_timeout"] = PATIENCE
    probe.settings_dict["OPTIONS"] = options
    try:
        with probe.cursor() as cursor:
            cursor.execute("SELECT 1")
    finally:
        probe.close()
    return "answers"


def migrations() -> str:
    """Compare the migrations that this program has with those that the database has seen."""
    rows = MigrationRecorder(connection).migration_qs
    missing = len(_of_program() - set(rows.values_list("app", "name")))
    if missing:
        raise NotReady(f"{missing} not applied: run manage.py migrate")
    return "all applied"


@cache
def _of_program() -> frozenset[tuple[str, str]]:
    return frozenset(MigrationLoader(None).disk_migrations)


def due_work(now: datetime) -> str:
    """Ask how long the row that has waited longest for a worker has been due."""
    since = [moment for kind in KINDS if (moment := oldest(kind, now)) is not None]
    waited = now - min(since) if since else timedelta()
    seconds = round(waited.total_seconds())
    if waited > LIMIT:
        limit = round(LIMIT.total_seconds())
        raise NotReady(f"the oldest has waited {seconds} s, more than {limit} s: is a worker up?")
    return f"the oldest has waited {seconds} s" if since else "nothing waits"


def broker() -> str:
    """Ask the broker, where there is one."""
    if settings.REDIS_URL is None:
        return "none is used"
    client = redis.Redis.from_url(
        settings.REDIS_URL, socket_connect_timeout=PATIENCE, socket_timeout=PATIENCE
    )
    try:
        client.ping()
    finally:
        client.close()
    return "answers"
