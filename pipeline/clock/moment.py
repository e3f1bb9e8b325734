"""The one place that reads the time."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime

_stopped: list[datetime] = []


def now() -> datetime:
    """Return the present moment in UTC, or the moment at which a test stopped the clock."""
    return _stopped[-1] if _stopped else datetime.now(UTC)


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
