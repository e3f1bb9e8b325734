"""Take an erased person out of the history, so that nothing that is put back brings them back."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db.models import Q

from pipeline.followups.models import Consent, LeadLetter
from pipeline.history.models import Change
from pipeline.leads.models import Contact, LogEntry
from sessions.models import Deliverable

from .finding import naming
from .tables import team_tables
from .words import INSTEAD, Words

COLUMNS = ("name", "email", "role", "timezone")


def erase_from_history(people: list[Contact], addresses: list[str], now: datetime) -> None:
    """Empty what the history says of these people; that something was changed stays known.

    A removed row of theirs, should it be put back, comes back as an erased person's.
    """
    team, by_address = people[0].team, Words.of(addresses)
    own, leads = {person.pk for person in people}, {person.lead_id for person in people}
    told = Change.objects.filter(team=team)
    of_leads = told.filter(lead__in=leads)
    for change in told.filter(
        Q(row__in=own) | Q(removed=True), table=Contact._meta.db_table
    ).exclude(said={}):
        if change.row in own or _was(change, people, by_address):
            _empty(change, now)
    for change in of_leads.filter(table=LeadLetter._meta.db_table, removed=True):
        if change.said.get("contact_id") in own:
            _store(change, change.said | {"to": "", "subject": "Erased", "text": ""})
    at_lead = Words.of([*(person.name for person in people), *addresses])
    for table, column in ((LogEntry, "who"), (Deliverable, "sent_to"), (Consent, "name")):
        for change in of_leads.filter(table=table._meta.db_table):
            if at_lead.strings_in(change.said.get(column)):
                said = {**change.said, column: at_lead.out_of(change.said[column])}
                if table is Consent:
                    said |= {"name": INSTEAD, "said": ""}
                _store(change, said)
    changes = [table for table in team_tables() if table.label == "history.change"]
    for change, field in list(naming(team, by_address, changes)):
        if field.name == "said":
            _store(change, by_address.out_of(change.said))


def _was(change: Change, people: list[Contact], by_address: Words) -> bool:
    """Tell whether a removed contact was one of these people."""
    name, email = (str(change.said.get(column) or "") for column in ("name", "email"))
    if email:
        return by_address.within(email)
    return any(
        name.casefold() == person.name.casefold() and change.lead == person.lead_id
        for person in people
        if person.name
    )


def _empty(change: Change, now: datetime) -> None:
    if change.removed:
        _store(change, change.said | dict.fromkeys(COLUMNS, "") | {"erased_at": now.isoformat()})
        return
    left = {column: said for column, said in change.said.items() if column not in COLUMNS}
    if left:
        _store(change, left)
    else:
        change.delete()


def _store(change: Change, said: dict[str, Any]) -> None:
    Change.objects.filter(pk=change.pk).update(said=said)
