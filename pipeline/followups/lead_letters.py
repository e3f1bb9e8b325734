"""Letters to people at a lead: drafted, changed, thrown away, and sent by a member, once."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import transaction

from pipeline.leads.models import Contact, Lead
from pipeline.leads.rules import hold
from pipeline.mail.models import Letter, StoppedAddress, Stops
from pipeline.mail.outbox import write
from pipeline.mail.stopped import asked_for_no_more, refuse_stopped, with_way_out
from pipeline.teams.models import Member, Team
from pipeline.teams.refused import Refused
from pipeline.teams.templatetags.show import moment as shown

from .actions import mark_done
from .drafting import fill, to_mend, values_for
from .models import FollowUp, LeadLetter


@transaction.atomic
def draft(
    *,
    lead: Lead,
    member: Member,
    now: datetime,
    contact: Contact,
    subject: str,
    text: str,
    follow_up: FollowUp | None = None,
) -> LeadLetter:
    """Store a draft; nothing goes out."""
    lead = hold(lead.pk)
    row = LeadLetter(
        team=lead.team,
        lead=lead,
        contact=contact,
        follow_up=follow_up,
        subject=subject,
        text=text,
        written_by=member,
        created_at=now,
    )
    _check(row, member)
    row.save(force_insert=True)
    return row


@transaction.atomic
def change(*, letter: LeadLetter, member: Member, expected_version: int) -> None:
    """Store a draft that was changed; ``Stale`` if somebody else did so meanwhile."""
    row = _held(letter)
    if row.sent_at is not None:
        raise Refused(f"It can't be changed any more: {was_sent(row)}")
    _check(letter, member)
    letter.save_version(expected_version)


@transaction.atomic
def remove(*, letter: LeadLetter) -> None:
    """Throw a draft away; what was sent is kept."""
    row = _held(letter)
    if row.sent_at is not None:
        raise Refused(f"It is kept: {was_sent(row)}")
    row.delete()


@transaction.atomic
def send(
    *, letter: LeadLetter, member: Member, now: datetime, expected_version: int, done: bool
) -> LeadLetter:
    """Send a draft in the member's name, as it was seen; with ``done`` its follow-up is done."""
    row = _held(letter)
    if row.sent_at is not None:
        raise Refused(was_sent(row))
    if row.version != expected_version:
        raise Refused("Somebody changed it meanwhile. Read it once more, then send it.")
    if forbids := obstacles(row):
        raise Refused(" ".join(forbids))
    row.letter = write(**as_letter(row, member, now))
    row.to, row.sent_at, row.written_by = row.letter.to, now, member
    row.save_version(row.version)
    if done and row.follow_up is not None:
        mark_done(follow_up=row.follow_up, member=member, now=now)
    return row


def obstacles(row: LeadLetter) -> list[str]:
    """Return in words what forbids to send a draft; empty where nothing does."""
    found = []
    if row.contact is None or row.contact.lead_id != row.lead_id:
        found.append("Whom it was for is no longer at this lead; choose somebody.")
    elif not row.contact.email:
        found.append(f"{row.contact} has no address; note one, or choose somebody else.")
    else:
        for at in StoppedAddress.objects.of(row.team, [row.contact.email]).values():
            said = asked_for_no_more(row.contact, row.team, at)
            found.append(f"{said} Nothing is sent to them.")
    return found + to_mend(f"{row.subject}\n{row.text}")


def as_letter(row: LeadLetter, member: Member, now: datetime) -> dict[str, Any]:
    """Return what goes out when ``member`` sends a draft, by the names of the letter's fields."""
    to = row.contact.email if row.contact else ""
    return {
        "team": row.team,
        "key": f"lead letter|{row.pk}",
        "to": to,
        "subject": row.subject,
        "text": with_way_out(row.text, row.team, to),
        "due_at": now,
        "by": member,
        "stops": Stops.LETTERS,
    }


def was_sent(row: LeadLetter) -> str:
    """Return in words that a letter went out, when, and by whom."""
    by = f" by {row.written_by}" if row.written_by else ""
    return f"it was sent{by}, {shown(row.sent_at, row.team.timezone)}."


def delivery(letter: Letter | None, team: Team) -> str:
    """Return in words how far a letter that was sent has come."""
    if letter is None:
        return "not kept any more"
    if letter.sent_at:
        return f"sent {shown(letter.sent_at, team.timezone)}"
    if letter.withheld_at:
        return "held back: before it went out they asked for no more letters"
    if letter.gave_up_at:
        return "it could not be sent"
    if letter.last_error:
        return f"tried in vain, and again {shown(letter.next_attempt_at, team.timezone)}"
    return "waiting to be sent"


def _check(row: LeadLetter, member: Member) -> None:
    if row.contact is None or row.contact.lead_id != row.lead_id:
        raise Refused("Choose one of this lead's people.", "contact")
    if row.follow_up and row.follow_up.lead_id != row.lead_id:
        raise Refused("This follow-up belongs to another lead. Write from its own page.")
    refuse_stopped(row.team, [row.contact.email], field="contact")
    values = values_for(lead=row.lead, contact=row.contact, member=member, follow_up=row.follow_up)
    row.subject = " ".join(fill(row.subject, values).split())
    row.text = fill(row.text, values)


def _held(letter: LeadLetter) -> LeadLetter:
    """Return a letter as stored; whoever writes to its lead waits for this transaction."""
    rows = LeadLetter.objects.with_names().select_related("team")
    lead = LeadLetter.objects.filter(pk=letter.pk).values_list("lead", flat=True).first()
    if lead is not None:
        hold(lead)
    row: LeadLetter | None = rows.filter(pk=letter.pk).first()
    if row is None:
        raise Refused("Somebody threw this letter away meanwhile.")
    return row
