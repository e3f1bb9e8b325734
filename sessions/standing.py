"""Where a lead is: a pure function of its facts and a day; the one writer of its stored copy."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from pipeline.leads.models import Decision, DecisionKind, Funding, Lead, Proposal, Standing
from pipeline.teams.models import Team

from .models import Deliverable, DiscoverySession, State

OF_DECISION = {
    DecisionKind.ENGAGED: Standing.ENGAGED,
    DecisionKind.DECLINED: Standing.DECLINED,
    DecisionKind.TURNED_AWAY: Standing.TURNED_AWAY,
    DecisionKind.QUIET: Standing.QUIET,
}


@dataclass
class Facts:
    """One lead's facts, as the standing sees them. Days are the team's local days."""

    enquired_on: date | None = None
    # (day, kind), in the order in which they count: by day, then as entered
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

    decided = [(d, kind) for d, kind in facts.decisions if d <= day]
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
        return found(Standing.WAITING, _first_of_run(decided))
    if proposals:
        return found(Standing.PROPOSAL, max(proposals))
    if held:
        latest = held[-1][0]
        if _owed(facts.deliverables, {pk for _, pk, _ in held}, day):
            return found(Standing.OWED, latest)
        return found(Standing.HELD, latest)
    if booked:
        return found(Standing.BOOKED, min(booked))
    return found(Standing.ENQUIRY, facts.enquired_on)


def _first_of_run(decided: list[tuple[date, str]]) -> date:
    """Return since when the lead has been saying "no budget yet" without another decision."""
    first = decided[-1][0]
    for day, kind in reversed(decided):
        if kind != DecisionKind.NO_BUDGET:
            break
        first = day
    return first


def _owed(
    deliverables: Iterable[tuple[int | None, date | None, date | None]],
    sessions: Collection[int],
    day: date,
) -> bool:
    return any(
        session in sessions and (sent is None or sent > day) and (waived is None or waived > day)
        for session, sent, waived in deliverables
    )


def facts_of(team: Team, lead_ids: Collection[int]) -> dict[int, Facts]:
    """Return the facts of these leads, in six queries whatever their number."""
    leads = Lead.objects.for_team(team).filter(pk__in=lead_ids)
    found = {pk: Facts(enquired_on=day) for pk, day in leads.values_list("pk", "enquired_on")}

    def rows(table: Any, *columns: str) -> Any:
        of_these = table.objects.for_team(team).filter(lead__in=list(found))
        return of_these.order_by(columns[0], "pk").values_list("lead_id", *columns)

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


def differing(team: Team, lead_ids: Collection[int], day: date) -> list[Lead]:
    """Return the leads whose stored standing is not the computed one, set right but not saved."""
    facts = facts_of(team, lead_ids)
    changed = []
    for lead in Lead.objects.for_team(team).filter(pk__in=list(facts)):
        now = compute(facts[lead.pk], day)
        values = (now.standing, now.since, now.index_day, now.index_format)
        if tuple(getattr(lead, name) for name in STORED) != values:
            for name, value in zip(STORED, values, strict=True):
                setattr(lead, name, value)
            changed.append(lead)
    return changed


def settle(team: Team, lead_ids: Collection[int], now: datetime) -> None:
    """Refresh the stored standing of these leads. The version of a lead is not touched by it."""
    changed = differing(team, lead_ids, team.today(now))
    Lead.objects.bulk_update(changed, STORED, batch_size=500)
