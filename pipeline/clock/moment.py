"""The one place that reads the time."""

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta

from django.db import connection

_stopped: list[datetime] = []


def now() -> datetime:
    """Return the present moment in UTC, or the moment at which a test stopped the clock."""
    return _stopped[-1] if _stopped else datetime.now(UTC)


def shared() -> datetime:
    """Return the moment by the clock that all workers share, the database server's.

    Machines' own clocks differ; by them one worker would take over what another still holds.
    """
    if _stopped or connection.vendor != "postgresql":
        return now()
    with connection.cursor() as cursor:
        cursor.execute("SELECT clock_timestamp()")
        found: datetime = cursor.fetchone()[0]
    return found.astimezone(UTC)


def running_from(start: datetime) -> Callable[[], datetime]:
    """Return a clock that shows ``start`` now and goes on from there."""
    if _stopped:
        return lambda: start
    begun = time.monotonic()
    return lambda: start + timedelta(seconds=time.monotonic() - begun)


@contextmanager
def stopped(at: datetime) -> Iterator[None]:
    """Stop the clock at ``at`` (with a zone) while the block runs; blocks nest."""
    if at.tzinfo is None:
        raise ValueError("at must carry a time zone")
    _stopped.append(at.astimezone(UTC))
    try:
        yield
    finally:
        _stopped.pop()
