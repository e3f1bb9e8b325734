"""Where a lead is: a pure function of its facts and a day; the one writer of its stored copy."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from copy import copy
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from django.db import transaction

from pipeline.leads.models import Decision, DecisionKind, Funding, Lead, Proposal, Standing
from pipeline.teams.models import Team

from .models import Deliverable, DiscoverySession, State

OF_DECISION = {
    DecisionKind.ENGAGED: Standing.ENGAGED,
    DecisionKind.DECLINED: Standing.DECLINED,
    DecisionKind.TURNED_AWAY: Standing.TURNED_AWAY,
    DecisionKind.QUIET: Standing.QUIET,
}


# Of several decisions on one day the last in this order counts: a yes outweighs a no, as in the
# results, and either outweighs what leaves the lead open.
WEIGHT = {
    kind: weight
    for weight, kind in enumerate(
        (
            DecisionKind.QUIET,
            DecisionKind.NO_BUDGET,
            DecisionKind.DECLINED,
            DecisionKind.TURNED_AWAY,
            DecisionKind.ENGAGED,
        )
    )
}


@dataclass
class Facts:
    """One lead's facts, in any order, as the standing sees them; days are the team's."""

    enquired_on: date | None = None
    # (day, kind)
    decisions: list[tuple[date, str]] = field(default_factory=list)
    fundings: list[date] = field(default_factory=list)
    proposals: list[date] = field(default_factory=list)
    # (day, state, primary key, format's key)
    sessions: list[tuple[date, str, int, int | None]] = field(default_factory=list)
    # (session's key or none, day sent, day waived)
    deliverables: list[tuple[int | None, date | None, date | None]] = field(default_factory=list)


@dataclass(frozen=True)
class Computed:
    """A standing, the day of the fact that gave it, and the index session."""

    standing: Standing
    since: date | None
    index_day: date | None = None
    index_format: int | None = None


def compute(facts: Facts, day: date) -> Computed:
    """Return where the lead is on ``day``, from the facts whose own day is ``day`` or before.

    A booking counts from when it is known, so a booked session may lie ahead. The newest decision
    decides unless a session or proposal is newer than it; on the same day the decision decides.
    """
    held = sorted(
        (d, pk, fmt) for d, state, pk, fmt in facts.sessions if state == State.HELD and d <= day
    )
    index_day, index_format = (held[0][0], held[0][2]) if held else (None, None)

    def found(standing: Standing, since: date | None) -> Computed:
        return Computed(standing, since, index_day, index_format)

    decided = sorted(
        ((d, kind) for d, kind in facts.decisions if d <= day),
        key=lambda row: (row[0], WEIGHT[DecisionKind(row[1])]),
    )
    decision = decided[-1] if decided else None
    after = decision[0] if decision else date.min

    def newer(d: date) -> bool:
        return decision is None or d > after

    proposals = [d for d in facts.proposals if d <= day and newer(d)]
    held = [row for row in held if newer(row[0])]
    booked = [d for d, state, _, _ in facts.sessions if state == State.BOOKED and newer(d)]

    if decision and not (proposals or held or booked):
        if decision[1] != DecisionKind.NO_BUDGET:
            return found(OF_DECISION[DecisionKind(decision[1])], after)
        arrived = [d for d in facts.fundings if after <= d <= day]
        if arrived:
            return found(Standing.FUNDED, max(arrived))
        return found(Standing.WAITING, _waiting_since(decided, facts.fundings))
    if proposals:
        return found(Standing.PROPOSAL, max(proposals))
    # A promise whose session is not known (from a sheet) has no day of its own to be newer by.
    promised_by: set[int | None] = {pk for _, pk, _ in held} | (set() if decision else {None})
    latest = held[-1][0] if held else None
    if _owed(facts.deliverables, promised_by, day):
        return found(Standing.OWED, latest)
    if held:
        return found(Standing.HELD, latest)
    if booked:
        return found(Standing.BOOKED, min(booked))
    return found(Standing.ENQUIRY, facts.enquired_on)


def _waiting_since(decided: list[tuple[date, str]], fundings: list[date]) -> date:
    """Return since when the lead has said "no budget yet": no other decision, no money since."""
    newest = decided[-1][0]
    arrived = max((d for d in fundings if d < newest), default=date.min)
    first = newest
    for day, kind in reversed(decided):
        if kind != DecisionKind.NO_BUDGET or day <= arrived:
            break
        first = day
    return first


def _owed(
    deliverables: Iterable[tuple[int | None, date | None, date | None]],
    sessions: Collection[int | None],
    day: date,
) -> bool:
    return any(
        session in sessions and (sent is None or sent > day) and (waived is None or waived > day)
        for session, sent, waived in deliverables
    )


def facts_of(team: Team, leads: Collection[Lead]) -> dict[int, Facts]:
    """Return the facts of these leads, in five queries whatever their number."""
    found = {lead.pk: Facts(enquired_on=lead.enquired_on) for lead in leads}

    def rows(table: Any, *columns: str) -> Any:
        of_these = table.objects.for_team(team).filter(lead__in=list(found))
        return of_these.values_list("lead_id", *columns)

    for lead, *decision in rows(Decision, "day", "kind"):
        found[lead].decisions.append(tuple(decision))
    for lead, arrived_on in rows(Funding, "arrived_on"):
        found[lead].fundings.append(arrived_on)
    for lead, sent_on in rows(Proposal, "sent_on"):
        found[lead].proposals.append(sent_on)
    for lead, *session in rows(DiscoverySession, "day", "state", "pk", "format_id"):
        found[lead].sessions.append(tuple(session))
    for lead, *deliverable in rows(Deliverable, "session_id", "sent_on", "waived_on"):
        found[lead].deliverables.append(tuple(deliverable))
    return found


STORED = ("standing", "standing_since", "index_day", "index_format_id")


def differing(leads: Iterable[Lead], facts: dict[int, Facts], day: date) -> list[Lead]:
    """Return the leads whose stored standing is not the computed one, set right but not saved."""
    changed = []
    for lead in leads:
        now = compute(facts[lead.pk], day)
        values = (now.standing, now.since, now.index_day, now.index_format)
        if tuple(getattr(lead, name) for name in STORED) != values:
            for name, value in zip(STORED, values, strict=True):
                setattr(lead, name, value)
            changed.append(lead)
    return changed


def wrong_copies(team: Team, lead_ids: Collection[int], day: date) -> list[tuple[Lead, Lead]]:
    """Return (stored, computed) for each of these leads whose stored standing is wrong."""
    leads = list(Lead.objects.for_team(team).filter(pk__in=lead_ids).order_by("pk"))
    stored = {lead.pk: copy(lead) for lead in leads}
    return [(stored[lead.pk], lead) for lead in differing(leads, facts_of(team, leads), day)]


@transaction.atomic
def settle(team: Team, lead_ids: Collection[int], now: datetime) -> None:
    """Refresh the stored standing of these leads. The version of a lead is not touched by it.

    The leads are locked before their facts are read: of two writers who each added a fact, the
    second waits here, and then sees what the first has stored.
    """
    rows = Lead.objects.for_team(team).filter(pk__in=lead_ids).order_by("pk")
    leads = list(rows.select_for_update(no_key=True))
    changed = differing(leads, facts_of(team, leads), team.today(now))
    Lead.objects.bulk_update(changed, STORED, batch_size=500)
