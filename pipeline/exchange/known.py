"""Leads of the team with their facts at hand, and what an import is to write of them."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field
from typing import Any

from django.db import models

from pipeline.leads.models import Contact, Decision, Funding, Lead
from pipeline.teams.models import Team
from sessions.models import Deliverable, DiscoverySession

# The kinds of facts, in the order in which they are written, and what is filled in of each.
FACTS: dict[type[models.Model], tuple[str, ...]] = {
    Contact: ("name", "email"),
    DiscoverySession: ("state", "attendee_count", "effort_unsplit", "plan_from"),
    Deliverable: ("sent_on", "plan_from"),
    Decision: ("fee", "currency", "funding_expected_on", "expected_by_month"),
    Funding: (),
}
OF_LEAD = ("source", "enquired_on", "followed_since", "expected_fee", "currency", "note")


@dataclass(slots=True)
class Known:
    """One lead with its facts, stored or not yet."""

    lead: Lead
    contacts: list[Contact] = field(default_factory=list)
    sessions: list[DiscoverySession] = field(default_factory=list)
    deliverables: list[Deliverable] = field(default_factory=list)
    decisions: list[Decision] = field(default_factory=list)
    fundings: list[Funding] = field(default_factory=list)


def load(team: Team, leads: Collection[int], *, lock: bool) -> dict[int, Known]:
    """Return these leads with their facts, in six queries; locked until the transaction ends."""

    def rows(table: Any, **lookup: Any) -> Any:
        found = table.objects.for_team(team).filter(**lookup).order_by("pk")
        return found.select_for_update(no_key=True, of=("self",)) if lock else found

    keys = list(leads)
    found = {lead.pk: Known(lead) for lead in rows(Lead, pk__in=keys).select_related("source")}

    def facts(table: Any, *at_hand: str) -> Any:
        # without names select_related would fetch every relation
        of_these = rows(table, lead__in=keys).select_related(*(at_hand or (None,)))
        for row in of_these:
            row.lead = found[row.lead_id].lead
            yield found[row.lead_id], row

    for known, contact in facts(Contact):
        known.contacts.append(contact)
    for known, session in facts(DiscoverySession, "format"):
        known.sessions.append(session)
    for known, deliverable in facts(Deliverable):
        known.deliverables.append(deliverable)
    for known, decision in facts(Decision):
        known.decisions.append(decision)
    for known, funding in facts(Funding):
        known.fundings.append(funding)
    return found


class Changes:
    """Rows to make and rows in which a blank is filled, for one batch of leads."""

    def __init__(self) -> None:
        self.new_leads: list[Lead] = []
        self.made: dict[type[models.Model], list[Any]] = {table: [] for table in FACTS}
        self.filled: dict[type[models.Model], dict[int, Any]] = {Lead: {}}
        self.filled.update((table, {}) for table in FACTS)
        # Leads that stood before and got something.
        self.changed: dict[int, Lead] = {}

    def make(self, row: Any) -> None:
        """Note a new fact."""
        self.made[type(row)].append(row)
        self._touch(row.lead)

    def fill(self, row: Any) -> None:
        """Note that a blank of ``row`` was filled; its version goes up once."""
        if row.pk is not None and row.pk not in self.filled[type(row)]:
            self.filled[type(row)][row.pk] = row
            row.version += 1
        self._touch(row if isinstance(row, Lead) else row.lead)

    def _touch(self, lead: Lead) -> None:
        if lead.pk is not None:
            self.changed[lead.pk] = lead

    def store(self) -> None:
        """Write it all, each kind in so many rows a query."""
        Lead.objects.bulk_create(self.new_leads, batch_size=500)
        for table, rows in self.made.items():
            table._default_manager.bulk_create(rows, batch_size=500)
        for table, filled in self.filled.items():
            fields = OF_LEAD if table is Lead else FACTS[table]
            table._default_manager.bulk_update(
                filled.values(), [*fields, "version"], batch_size=200
            )
