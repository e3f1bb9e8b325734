"""Erase a person: name, address, role and zone go, dated facts stay, and no way leads back.

What is looked for by itself is what has a place of its own: the person's rows, letters, lists of
addresses, and the history of all these. Names in free text are for a person to judge (finding.py).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import F, Q

from pipeline.followups.models import Consent, LeadLetter
from pipeline.leads.models import Contact, Lead, LogEntry
from pipeline.mail.models import Letter
from pipeline.teams.acting import acting
from pipeline.teams.models import Member
from sessions.models import CalendarEntry, Deliverable, Offer, SharedTakeaway

from .erasing_history import erase_from_history
from .finding import naming, put_instead
from .gathering import same_address
from .models import DataAct, Done
from .tables import KEPT, team_tables
from .words import INSTEAD, Words

# Columns that name people and nothing else: erasing takes them out of these by itself.
SPOKEN: tuple[tuple[Any, str, str], ...] = (
    (LogEntry, "who", "lead"),
    (Deliverable, "sent_to", "lead"),
    (SharedTakeaway, "sent_to", "session__lead"),
)
GONE = {"name": "", "email": "", "role": "", "timezone": ""}


@transaction.atomic
def erase(
    *,
    contact: Contact,
    member: Member | None,
    now: datetime,
    what_for: str,
    with_same_address: Collection[int] | None = None,
) -> int:
    """Erase a person, and of those with the same address the chosen ones (``None``: all).

    Where somebody with the address is left, the address is theirs: what it stands in stays, but
    for what is linked to the person. Called twice it changes nothing. Returns how many went.
    """
    others = list(same_address(contact).values_list("pk", flat=True))
    chosen = set(others if with_same_address is None else with_same_address) & set(others)
    keys = [contact.pk, *sorted(chosen)]
    leads = Contact.objects.filter(pk__in=keys).values_list("lead", flat=True)
    for pk in sorted(set(leads)):
        Lead.objects.lock(pk)
    known = Contact.objects.select_for_update().filter(erased_at=None)
    people = list(known.filter(pk__in=keys).order_by("pk"))
    if contact.pk not in {person.pk for person in people}:
        return 0
    shared = known.filter(pk__in=set(others) - chosen).exists()
    addresses = [] if shared else [person.email for person in people]
    # The history must not keep what goes.
    with acting(member=member.pk if member else None, now=now, kept=False):
        _letters(people, addresses)
        _lists(people, addresses)
        erase_from_history(people, addresses, now)
        erased = Contact.objects.filter(pk__in=[person.pk for person in people])
        erased.update(**GONE, erased_at=now, version=F("version") + 1)
        DataAct.objects.bulk_create(
            DataAct(
                team_id=person.team_id,
                done=Done.ERASED,
                contact=person,
                at=now,
                by=member,
                what_for=Words.of([person.name, *addresses]).without(what_for)[:300],
            )
            for person in people
        )
    return len(people)


def _letters(people: list[Contact], addresses: Iterable[str]) -> None:
    """Throw drafts and waiting letters away; of what was sent keep that and when."""
    team = people[0].team_id
    own = LeadLetter.objects.filter(contact__in=people)
    own.filter(sent_at=None).delete()
    sent = {pk for pk in own.values_list("letter", flat=True) if pk}
    own.update(to="", subject="Erased", text="", version=F("version") + 1)
    to_them = Q(pk__in=sent)
    for address in filter(None, addresses):
        to_them |= Q(to__iexact=address)
    letters = Letter.objects.filter(to_them, team=team, member=None)
    letters.filter(sent_at=None, withheld_at=None).delete()
    for letter in letters:
        letter.key = f"erased {letter.pk}"
        letter.to = letter.text = letter.html = letter.calendar = letter.last_error = ""
        letter.subject = "Erased"
    fields = ["key", "to", "text", "html", "calendar", "last_error", "subject"]
    Letter.objects.bulk_update(letters, fields, batch_size=200)


def _lists(people: list[Contact], addresses: list[str]) -> None:
    """Take them out of what tells to whom something went, and with whom somebody spoke."""
    team, leads = people[0].team_id, {person.lead_id for person in people}
    names = [person.name for person in people]
    Offer.objects.filter(contact__in=people).update(sent_to="")
    for row in Consent.objects.filter(lead__in=leads):
        if row.contact_id in {p.pk for p in people} or row.name in [*names, *addresses]:
            Consent.objects.filter(pk=row.pk).update(name=INSTEAD, said="")
    by_address, at_lead = Words.of(addresses), Words.of([*names, *addresses])
    for model, field, lead in SPOKEN:
        column = model._meta.get_field(field)
        for row in model.objects.filter(at_lead.narrow(field), **{f"{lead}__in": leads}):
            put_instead(row, column, at_lead)
        if by_address:
            for row in model.objects.filter(by_address.narrow(field), team=team):
                put_instead(row, column, by_address)
    _invitations(team, by_address)
    # Their address in all else that nobody edits by hand; the history has its own way.
    kept = [t for t in team_tables() if t.label in KEPT and t.label != "history.change"]
    for row, column in list(naming(people[0].team, by_address, kept)):
        put_instead(row, column, by_address)


def _invitations(team: int, words: Words) -> None:
    if not words:
        return
    for entry in CalendarEntry.objects.filter(team=team):
        if words.within(entry.organizer_email):
            # Nobody is left in whose name a change could be told.
            entry.delete()
            continue
        left = [person for person in entry.people if not words.within(person[0])]
        if len(left) < len(entry.people):
            CalendarEntry.objects.filter(pk=entry.pk).update(people=left)
