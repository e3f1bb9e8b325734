"""Mark a session held; what its format promised is owed from then on."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from pipeline.leads.settle import settle
from pipeline.teams.models import Member, Stale
from pipeline.teams.refused import Refused

from .locking import take_session
from .models import DiscoverySession, State
from .promised import promise


@transaction.atomic
def hold(
    *,
    session: DiscoverySession,
    member: Member | None,
    now: datetime,
    expected_version: int | None = None,
    attendee_count: int | None = None,
    effort_before: int | None = None,
    effort_during: int | None = None,
    effort_after: int | None = None,
) -> DiscoverySession:
    """Mark a session held, note count and effort, and create what was promised.

    Holding a held session again with nothing new to say changes nothing; the row tells by
    ``marked_by`` and ``marked_at`` who did it first. Something new at an older version raises
    ``Stale``, so that nobody's figures are written over unseen.
    """
    row = take_session(session, None)
    told = {
        "attendee_count": attendee_count,
        "effort_before": effort_before,
        "effort_during": effort_during,
        "effort_after": effort_after,
    }
    told = {name: value for name, value in told.items() if value is not None}
    new = {name: value for name, value in told.items() if getattr(row, name) != value}
    if row.state == State.HELD and not new:
        return row
    if expected_version is not None and row.version != expected_version:
        raise Stale(row)
    if row.state == State.CANCELLED:
        raise Refused("The session is cancelled; put it back to booked first.")
    if row.day > row.team.today(now):
        raise Refused("The session's day lies ahead; it can be marked held on the day.")
    for name, value in new.items():
        setattr(row, name, value)
    if row.state != State.HELD:
        row.state = State.HELD
        row.marked_at, row.marked_by = now, member
        promise(row, member, now)
    row.save_version(row.version)
    settle(row.team, [row.lead_id], now=now)
    return row
