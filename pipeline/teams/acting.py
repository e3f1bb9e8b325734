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
    if connection.needs_rollback:
        # the transaction ends here, and what it was told with it
        return
    told = (
        (str(act.member or ""), act.at.isoformat(), act.key, "" if act.kept else "no")
        if act
        else ("", "", "", "")
    )
    connection.ensure_connection()
    # On the driver's own connection: telling is no question to the database.
    connection.connection.execute(
        "SELECT set_config('pipeline.member', %s, true), set_config('pipeline.now', %s, true),"
        " set_config('pipeline.act', %s, true), set_config('pipeline.kept', %s, true)",
        told,
    )
