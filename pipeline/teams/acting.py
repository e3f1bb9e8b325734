"""Who acts, and when: told to the database, whose triggers keep the history of rows."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import datetime
from uuid import uuid4

from django.db import connection

from pipeline.clock import moment
from pipeline.locks.asking import tell_transaction


@dataclass(frozen=True)
class Act:
    """What one person, or the program by itself, does at one moment."""

    # None: the program by itself.
    member: int | None
    at: datetime
    # Tells the changes of one act from those of others.
    key: str
    # False: nothing is kept, as the whole team goes.
    kept: bool = True


_current: ContextVar[Act | None] = ContextVar("act", default=None)


def current() -> Act:
    """Return the act that goes on; outside of any, the program acts by itself, now."""
    return _current.get() or Act(None, moment.now(), uuid4().hex)


@contextmanager
def acting(*, member: int | None, now: datetime, kept: bool = True) -> Iterator[Act]:
    """Let changes in this block count as those of ``member`` at ``now``.

    On PostgreSQL the act is told to the transaction: open one first.
    """
    act = Act(member, now, uuid4().hex, kept)
    before = _current.get()
    token = _current.set(act)
    _tell(act)
    try:
        yield act
    finally:
        _current.reset(token)
        _tell(before)


def _tell(act: Act | None) -> None:
    if connection.vendor != "postgresql" or not connection.in_atomic_block:
        return
    tell_transaction(
        {
            "pipeline.member": str(act.member or "") if act else "",
            "pipeline.now": act.at.isoformat() if act else "",
            "pipeline.act": act.key if act else "",
            "pipeline.kept": "no" if act and not act.kept else "",
        }
    )
