"""Write down that somebody asked for no more letters, and why letters may go to them again."""

from __future__ import annotations

from datetime import date, datetime

from django.db import transaction

from pipeline.leads.models import Contact
from pipeline.leads.rules import hold, not_after
from pipeline.mail.models import StoppedAddress, digest_of
from pipeline.teams.models import Member
from pipeline.teams.refused import Refused

from .models import Consent


@transaction.atomic
def no_more_letters(*, contact: Contact, member: Member, now: datetime) -> bool:
    """Note that a person asked for no more letters; returns whether that was news.

    It holds for the address, within the team, whatever becomes of the person's row.
    """
    hold(contact.lead_id)
    if not contact.email:
        raise Refused("No address is noted: no letter can go to them.")
    _, new = StoppedAddress.objects.get_or_create(
        team_id=contact.team_id,
        address=digest_of(contact.email),
        defaults={"stopped_at": now, "by": member},
    )
    return bool(new)


@transaction.atomic
def letters_again(
    *, contact: Contact, member: Member, now: datetime, day: date, words: str
) -> Consent:
    """Let letters go to a person again, and keep on which day they agreed and how."""
    lead = hold(contact.lead_id)
    if not words.strip():
        raise Refused("Say in their words, or yours, why letters may go to them again.", "words")
    stopped = StoppedAddress.objects.for_team(lead.team).filter(address=digest_of(contact.email))
    row = stopped.select_for_update().first()
    if row is None:
        raise Refused(f"{contact} has not asked for no more letters; nothing needs taking back.")
    not_after(day, lead.team.today(now), field="day")
    if day < (since := lead.team.today(row.stopped_at)):
        raise Refused(f"They asked for no more letters on {since}; give that day or later.", "day")
    kept: Consent = Consent.objects.create(
        team=lead.team,
        lead=lead,
        name=str(contact),
        stopped_at=row.stopped_at,
        day=day,
        said=words.strip(),
        recorded_at=now,
        recorded_by=member,
    )
    row.delete()
    return kept
