"""Write down that somebody agreed to letters, or asked for no more, and when and how."""

from __future__ import annotations

from datetime import date, datetime

from django.db import transaction

from pipeline.leads.models import Contact
from pipeline.leads.rules import hold, not_after
from pipeline.mail.models import StoppedAddress, digest_of
from pipeline.teams.models import Member
from pipeline.teams.refused import Refused

from .models import Consent, How


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
    agreed = Consent.objects.standing(contact)
    agreed.update(withdrawn_on=contact.team.today(now))
    return bool(new)


@transaction.atomic
def agreed_to_letters(
    *, contact: Contact, member: Member, now: datetime, day: date, how: str, words: str
) -> Consent:
    """Keep on which day a person agreed to letters, how, and to which wording."""
    lead = hold(contact.lead_id)
    if contact.erased_at is not None:
        raise Refused("This person was erased for good; nothing is noted of them again.")
    if how not in How.values:
        raise Refused("Choose how they agreed.", "how")
    if not words.strip():
        raise Refused("Give the wording to which they agreed.", "words")
    not_after(day, lead.team.today(now), field="day")
    if StoppedAddress.objects.has(lead.team, contact.email):
        raise Refused(
            f"{contact} asked for no more letters. Note on the lead's page that they agreed again."
        )
    kept: Consent = Consent.objects.create(
        team=lead.team,
        lead=lead,
        contact=contact,
        name=str(contact),
        day=day,
        how=how,
        said=words.strip(),
        recorded_at=now,
        recorded_by=member,
    )
    return kept


def agreed_by_form(*, contact: Contact, now: datetime, day: date, words: str) -> None:
    """Keep that a person ticked on a public page that letters may go to them.

    Whoever knows an address can tick a box: that its bearer asked for no more letters it never
    undoes, and nothing is noted then.
    """
    if contact.erased_at is None and not StoppedAddress.objects.has(contact.team, contact.email):
        Consent.objects.create(
            team=contact.team,
            lead=contact.lead,
            contact=contact,
            name=str(contact),
            day=day,
            how=How.FORM,
            said=words,
            recorded_at=now,
        )


def agreement_of(contact: Contact) -> Consent | None:
    """Return what a person agreed to and did not take back; by the enquiry page too, unstored."""
    rows = list(Consent.objects.filter(contact=contact).order_by("-day", "-pk"))
    standing = [row for row in rows if row.withdrawn_on is None]
    if standing:
        return standing[0]
    taken_back = max((row.withdrawn_on or date.min for row in rows), default=date.min)
    enquiry = contact.enquiries.exclude(agreed_to="").order_by("-received_at").first()
    if enquiry is None or (day := contact.team.today(enquiry.received_at)) <= taken_back:
        return None
    return Consent(
        contact=contact, name=str(contact), day=day, how=How.FORM, said=enquiry.agreed_to
    )


@transaction.atomic
def withdraw(*, consent: Consent, now: datetime, day: date) -> None:
    """Note on which day somebody took an agreement back; what they had agreed to stays known."""
    lead = hold(consent.lead_id)
    row = Consent.objects.select_for_update().get(pk=consent.pk)
    if row.withdrawn_on is not None:
        raise Refused(f"They took it back on {row.withdrawn_on} already.")
    not_after(day, lead.team.today(now), field="day")
    if day < row.day:
        raise Refused(f"They agreed on {row.day}; give that day or later.", "day")
    row.withdrawn_on = day
    row.save(update_fields=["withdrawn_on"])


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
    # By the link in a letter they took back, too, what they had agreed to before.
    Consent.objects.standing(contact).update(withdrawn_on=lead.team.today(row.stopped_at))
    kept: Consent = Consent.objects.create(
        team=lead.team,
        lead=lead,
        contact=contact,
        name=str(contact),
        stopped_at=row.stopped_at,
        day=day,
        said=words.strip(),
        recorded_at=now,
        recorded_by=member,
    )
    row.delete()
    return kept
