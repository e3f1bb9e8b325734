"""What a member does with a follow-up: done, put off, given, dropped, added, taken back."""

from __future__ import annotations

import uuid
from datetime import date, datetime

from django.db import transaction

from pipeline.leads.models import Lead
from pipeline.leads.rules import hold
from pipeline.leads.settle import settle
from pipeline.teams.models import Member
from pipeline.teams.refused import Refused

from .models import FollowUp, FollowUpState
from .planning import in_words


@transaction.atomic
def add(
    *,
    lead: Lead,
    now: datetime,
    action: str,
    due_on: date,
    owner: Member | None,
) -> FollowUp:
    """Add a follow-up by hand; a day on which nobody works moves on to the next working day."""
    hold(lead.pk)
    if due_on < lead.team.today(now):
        raise Refused("Choose today or a day ahead.", "due_on")
    if not action.strip():
        raise Refused("Say what is to be done.", "action")
    _check_owner(lead, owner)
    made: FollowUp = FollowUp.objects.create(
        team=lead.team,
        lead=lead,
        key=f"by hand|{uuid.uuid4()}",
        action=action.strip(),
        due_on=lead.team.calendar().on_or_after(due_on),
        owner=owner,
        created_at=now,
    )
    return made


@transaction.atomic
def mark_done(*, follow_up: FollowUp, member: Member, now: datetime) -> tuple[FollowUp, bool]:
    """Mark a follow-up done. Returns it as stored, and whether this call did it."""
    row = _locked(follow_up)
    if row.state != FollowUpState.OPEN:
        return row, False
    return _close(row, FollowUpState.DONE, member, now), True


@transaction.atomic
def drop(
    *, follow_up: FollowUp, member: Member, now: datetime, reason: str
) -> tuple[FollowUp, bool]:
    """Drop a follow-up for a reason. Returns it as stored, and whether this call did it."""
    if not reason.strip():
        raise Refused("Say in a few words why it is dropped.", "reason")
    row = _locked(follow_up)
    if row.state != FollowUpState.OPEN:
        return row, False
    row.reason = reason.strip()
    return _close(row, FollowUpState.DROPPED, member, now), True


@transaction.atomic
def undo(*, follow_up: FollowUp, now: datetime) -> tuple[FollowUp, bool]:
    """Open a done or dropped follow-up again; it ends at once where nothing asks for it now.

    Returns it as stored, and whether this call changed it.
    """
    lead = Lead.objects.lock(follow_up.lead_id)
    row = _locked(follow_up)
    if row.state not in (FollowUpState.DONE, FollowUpState.DROPPED):
        return row, False
    row.state, row.reason = FollowUpState.OPEN, ""
    row.closed_on = row.closed_by = None
    row.save_version(row.version)
    settle(lead.team, [lead.pk], now=now)
    return _locked(row), True


@transaction.atomic
def put_off(
    *, follow_up: FollowUp, now: datetime, until: date, expected_version: int
) -> tuple[FollowUp, bool]:
    """Put a follow-up off until a day ahead, or the next working day after it.

    Returns it as stored, and whether this call changed it.
    """
    row = _locked(follow_up)
    if until <= row.team.today(now):
        raise Refused("Choose a day after today.", "until")
    day = row.team.calendar().on_or_after(until)
    if row.state != FollowUpState.OPEN or row.due_on == day:
        return row, False
    if row.version != expected_version:
        raise Refused(
            f"Somebody changed it meanwhile: it is due on {in_words(row.due_on)} now. "
            "Choose again.",
            "until",
        )
    row.due_on = day
    row.save_version(row.version)
    return row, True


@transaction.atomic
def give(*, follow_up: FollowUp, to: Member, expected_version: int) -> tuple[FollowUp, bool]:
    """Give a follow-up to another member who writes.

    Returns it as stored, and whether this call changed it.
    """
    row = _locked(follow_up)
    _check_owner(row, to)
    if row.state != FollowUpState.OPEN or row.owner_id == to.pk:
        return row, False
    if row.version != expected_version:
        owner = f"{row.owner} has it" if row.owner else "nobody has it"
        raise Refused(f"Somebody changed it meanwhile: {owner} now. Choose again.", "owner")
    row.owner = to
    row.save_version(row.version)
    return row, True


@transaction.atomic
def change(*, follow_up: FollowUp, now: datetime, expected_version: int) -> None:
    """Save an edited follow-up; raises ``Stale`` where somebody else was quicker."""
    row = _locked(follow_up)
    if row.state != FollowUpState.OPEN:
        raise Refused(f"It can't be changed any more: {what_became(row)}.")
    if follow_up.due_on != row.due_on:
        if follow_up.due_on < row.team.today(now):
            raise Refused("Choose today or a day ahead.", "due_on")
        follow_up.due_on = row.team.calendar().on_or_after(follow_up.due_on)
    _check_owner(row, follow_up.owner)
    follow_up.save_version(expected_version)


def what_became(row: FollowUp) -> str:
    """Return in words what became of a closed follow-up: ``done by Olive on 3 Mar 2026``."""
    by = f" by {row.closed_by}" if row.closed_by else ""
    day = f" on {in_words(row.closed_on)}" if row.closed_on else ""
    why = f": {row.reason}" if row.reason else ""
    if row.state == FollowUpState.ENDED:
        return f"ended by itself{day}{why}"
    return f"{row.state}{by}{day}{why}"


def _close(row: FollowUp, state: FollowUpState, member: Member, now: datetime) -> FollowUp:
    row.state, row.closed_on, row.closed_by = state, row.team.today(now), member
    row.save_version(row.version)
    return row


def _locked(follow_up: FollowUp) -> FollowUp:
    rows = FollowUp.objects.select_related("team", "owner__user", "closed_by__user")
    found: FollowUp = rows.select_for_update(of=("self",)).get(pk=follow_up.pk)
    return found


def _check_owner(row: Lead | FollowUp, owner: Member | None) -> None:
    if owner and (owner.team_id != row.team_id or not owner.writes):
        raise Refused("Choose a member of the team who writes.", "owner")
