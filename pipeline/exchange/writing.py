"""Write a team's leads as a sheet: as many rows as a lead needs.

Each row is one that the import reads back to the same facts: a deliverable stands in a row with
its session, a fee where its ``engaged`` is the row's last, money expected where its
``no budget yet`` is. Rows of one lead come one after the other, in the order in which their facts
were entered. What a sheet can't hold is told by ``left_out``.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import zip_longest
from typing import Any

from pipeline.leads.models import Contact, Decision, DecisionKind, Funding, Lead
from pipeline.teams.models import Team
from pipeline.teams.spreadsheet import Lines
from sessions.models import Deliverable, DiscoverySession

from .columns import COLUMNS, Expected, written
from .known import Known, load

Cells = dict[str, str]
BATCH = 500


class _Echo:
    """What lines are written to, so that a line may be yielded as soon as it is made."""

    def write(self, line: str, /) -> str:
        return line


def sheet_lines(team: Team) -> Iterator[str]:
    """Yield the sheet line by line; no more than a batch of leads is in memory.

    A header line and commas.
    """
    lines = Lines(_Echo())
    yield lines.write(COLUMNS)
    for known in _leads(team):
        for cells in rows_of(known):
            yield lines.write(cells.get(name, "") for name in COLUMNS)


def _leads(team: Team) -> Iterator[Known]:
    after = 0
    while True:
        keys = Lead.objects.for_team(team).present().filter(pk__gt=after).order_by("pk")
        batch = list(keys.values_list("pk", flat=True)[:BATCH])
        if not batch:
            return
        yield from load(team, batch, lock=False).values()
        after = batch[-1]


def rows_of(known: Known) -> list[Cells]:
    """Return the rows of one lead."""
    lead = known.lead
    decided = list(_decided(known.decisions))
    if lead.expected_fee is not None:
        _place_fee(decided, lead)
    columns = (_sessions(known), decided, _fundings(known), _contacts(known))
    rows: list[Cells] = []
    for parts in zip_longest(*columns):
        rows.append({name: cell for part in parts if part for name, cell in part.items()})
    rows = rows or [{}]
    rows[0] |= {
        "source": lead.source.name if lead.source else "",
        "enquired_on": _text(lead.enquired_on),
        "followed_since": _text(lead.followed_since),
    }
    named = {"lead_ref": lead.reference, "organisation": lead.organisation}
    return [row | named for row in rows]


def _sessions(known: Known) -> Iterator[Cells]:
    """Yield a row for each session with its first deliverable, and one for each further one."""
    promised: dict[int | None, list[Cells]] = {}
    for deliverable in known.deliverables:
        # a waived one would come back as owed
        if deliverable.waived_on is None:
            promised.setdefault(deliverable.session_id, []).append(_deliverable(deliverable))
    for session in known.sessions:
        cells = _session(session)
        first, *others = promised.pop(session.pk, [{}])
        yield cells | first
        same = {name: cells[name] for name in ("session_on", "format", "session_status")}
        yield from (same | other for other in others)
    yield from promised.pop(None, [])


def _session(session: DiscoverySession) -> Cells:
    return {
        "format": session.format.name if session.format else "",
        "session_on": _text(session.day),
        "session_status": str(session.state),
        "attendees": _text(session.attendee_count),
        "effort_minutes": _text(session.effort),
    }


def _deliverable(deliverable: Deliverable) -> Cells:
    return {
        "deliverable": deliverable.title,
        "deliverable_sent_on": _text(deliverable.sent_on),
    }


def _decided(decisions: Iterable[Decision]) -> Iterator[Cells]:
    """Yield the decisions in order, two a row where both keep what is theirs."""
    waiting: Decision | None = None
    for decision in sorted(decisions, key=lambda d: (d.day, d.pk)):
        if waiting is None:
            waiting = decision
        elif _goes_before(waiting, decision):
            yield _decision(waiting) | _decision(decision, "later_decision", "later_decided_on")
            waiting = None
        else:
            yield _decision(waiting)
            waiting = decision
    if waiting:
        yield _decision(waiting)


def _goes_before(first: Decision, later: Decision) -> bool:
    """Tell whether both may stand in one row: a fee and a day expected are those of the last."""
    bare = first.fee is None and first.funding_expected_on is None
    return first.kind != later.kind or bare


def _decision(decision: Decision, kind: str = "decision", day: str = "decided_on") -> Cells:
    cells = {kind: str(decision.kind), day: _text(decision.day)}
    if decision.fee is not None:
        cells |= {"fee": written(decision.fee), "currency": decision.currency}
    if decision.funding_expected_on and decision.kind == DecisionKind.NO_BUDGET:
        expected = Expected(decision.funding_expected_on, decision.expected_by_month)
        cells["funding_expected_on"] = str(expected)
    return cells


def _place_fee(decided: list[Cells], lead: Lead) -> None:
    """Put the fee expected of the lead into a row without an ``engaged``."""
    for row in decided:
        if DecisionKind.ENGAGED not in (row.get("decision"), row.get("later_decision")):
            break
    else:
        row = {}
        decided.append(row)
    assert lead.expected_fee is not None
    row |= {"fee": written(lead.expected_fee), "currency": lead.currency}


def _fundings(known: Known) -> Iterator[Cells]:
    for funding in sorted(known.fundings, key=_arrived):
        yield {"funding_arrived_on": _text(funding.arrived_on)}


def _arrived(funding: Funding) -> tuple[Any, int]:
    return funding.arrived_on, funding.pk


def _contacts(known: Known) -> Iterator[Cells]:
    for contact in known.contacts:
        if contact.erased_at is None:
            yield _contact(contact)


def _contact(contact: Contact) -> Cells:
    return {"contact_name": contact.name, "contact_email": contact.email}


def _text(value: object) -> str:
    return "" if value is None else str(value)
