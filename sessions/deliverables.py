"""Mark a deliverable sent or waived, undo either, change it."""

from __future__ import annotations

from datetime import date, datetime
from urllib.parse import urlsplit

from django.db import transaction
from django.utils.formats import date_format

from pipeline.leads.settle import settle
from pipeline.teams.models import Member
from pipeline.teams.refused import Refused

from .locking import take_deliverable, take_session
from .models import Deliverable, DiscoverySession


@transaction.atomic
def promise_by_hand(
    *,
    session: DiscoverySession,
    member: Member | None,
    now: datetime,
    title: str,
    due_on: date,
    owner: Member | None,
) -> Deliverable:
    """Promise something that the session's format does not."""
    row = take_session(session, None)
    if row.deliverables.filter(title=title).exists():
        raise Refused(f"There is already a “{title}” of this session; choose another.", "title")
    made: Deliverable = Deliverable.objects.create(
        team=row.team,
        lead_id=row.lead_id,
        session=row,
        title=title,
        due_on=due_on,
        owner=owner,
        recorded_at=now,
        recorded_by=member,
    )
    settle(row.team, [row.lead_id], now=now)
    return made


@transaction.atomic
def mark_sent(
    *,
    deliverable: Deliverable,
    member: Member | None,
    now: datetime,
    sent_on: date,
    sent_to: str,
) -> Deliverable:
    """Note on which day, and to whom, a deliverable was sent. Saying it again changes nothing."""
    row = take_deliverable(deliverable, None)
    if (row.sent_on, row.sent_to) == (sent_on, sent_to.strip()):
        return row
    _check_owed(row)
    if sent_on > row.team.today(now):
        raise Refused("This day lies ahead; name the day on which it was sent.", "sent_on")
    if row.session is not None and sent_on < row.session.day:
        raise Refused(
            f"The session was on {date_format(row.session.day, 'j F Y')}; "
            "name that day or a later one.",
            "sent_on",
        )
    if not sent_to.strip():
        raise Refused("Say to whom it was sent.", "sent_to")
    row.sent_on, row.sent_to = sent_on, sent_to.strip()
    return _marked(row, member, now)


@transaction.atomic
def waive(
    *, deliverable: Deliverable, member: Member | None, now: datetime, reason: str
) -> Deliverable:
    """Say why a deliverable will not be sent. Saying it again changes nothing."""
    row = take_deliverable(deliverable, None)
    if row.waived_on is not None and row.waived_reason == reason.strip():
        return row
    _check_owed(row)
    if not reason.strip():
        raise Refused("Say why it will not be sent.", "reason")
    row.waived_on, row.waived_reason = row.team.today(now), reason.strip()
    return _marked(row, member, now)


@transaction.atomic
def owe_again(*, deliverable: Deliverable, member: Member | None, now: datetime) -> Deliverable:
    """Undo sent or waived: the deliverable is owed again."""
    row = take_deliverable(deliverable, None)
    if row.owed:
        return row
    row.sent_on, row.sent_to = None, ""
    row.waived_on, row.waived_reason = None, ""
    row.marked_at, row.marked_by = None, None
    row.save_version(row.version)
    settle(row.team, [row.lead_id], now=now)
    return row


@transaction.atomic
def change(
    *,
    deliverable: Deliverable,
    now: datetime,
    title: str,
    due_on: date,
    owner: Member | None,
    link: str,
    expected_version: int | None = None,
) -> Deliverable:
    """Change title, due day, owner and link."""
    row = take_deliverable(deliverable, expected_version)
    others = Deliverable.objects.filter(team=row.team, session=row.session_id, title=title)
    if row.session_id is None:
        others = others.filter(lead=row.lead_id)
    if others.exclude(pk=row.pk).exists():
        raise Refused(f"There is already a “{title}” of this session; choose another.", "title")
    if link and urlsplit(link).scheme not in ("http", "https"):
        raise Refused("A link starts with https:// or http://.", "link")
    row.title, row.due_on, row.owner, row.link = title, due_on, owner, link
    row.save_version(row.version)
    settle(row.team, [row.lead_id], now=now)
    return row


def _check_owed(row: Deliverable) -> None:
    by = f" by {row.marked_by}" if row.marked_by else ""
    if row.sent_on is not None:
        raise Refused(
            f"It was already marked sent{by}: on {date_format(row.sent_on, 'j F Y')} to "
            f"{row.sent_to or 'nobody named'}. Undo that first to say otherwise."
        )
    if row.waived_on is not None:
        raise Refused(
            f"It was already waived{by}: {row.waived_reason or 'no reason given'}. "
            "Undo that first to say otherwise."
        )


def _marked(row: Deliverable, member: Member | None, now: datetime) -> Deliverable:
    row.marked_at, row.marked_by = now, member
    row.save_version(row.version)
    settle(row.team, [row.lead_id], now=now)
    return row
