"""What makes one row good, seen by itself.

A bad row drops only itself, and whole. All that is wrong with it is listed.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from pipeline.leads.models import DecisionKind
from sessions.models import State

from .columns import COLUMNS, IGNORED, Expected, Fault, Wrong
from .reading import Row, Table


@dataclass(frozen=True, slots=True)
class Reject:
    """A bad row and what is wrong with it."""

    row: Row
    faults: tuple[Fault, ...]


@dataclass(frozen=True, slots=True)
class Entry:
    """A good row, read. Texts are empty and other values ``None`` where a cell is blank."""

    row: Row
    lead_ref: str
    organisation: str
    contact_name: str
    contact_email: str
    source: str
    enquired_on: date | None
    format: str
    session_on: date | None
    session_status: str
    attendees: int | None
    effort_minutes: int | None
    deliverable: str
    deliverable_sent_on: date | None
    decision: str
    decided_on: date | None
    funding_expected_on: Expected | None
    funding_arrived_on: date | None
    later_decision: str
    later_decided_on: date | None
    fee: Decimal | None
    currency: str
    followed_since: date | None
    # (column, value) of the columns that the import doesn't know
    extra: tuple[tuple[str, str], ...]
    # Equal for rows whose trimmed cells are equal, in whatever order the columns stand.
    digest: str


# Columns whose blank cell is None rather than empty.
NOTHING: dict[str, Any] = {
    **dict.fromkeys(COLUMNS, ""),
    **dict.fromkeys(
        [
            "enquired_on",
            "session_on",
            "attendees",
            "effort_minutes",
            "deliverable_sent_on",
            "decided_on",
            "funding_expected_on",
            "funding_arrived_on",
            "later_decided_on",
            "fee",
            "followed_since",
        ]
    ),
}


def check(table: Table, today: date) -> tuple[list[Entry], list[Reject]]:
    """Return the good rows, read, and the bad ones. ``today`` is the team's local day."""
    entries: list[Entry] = []
    rejects: list[Reject] = []
    for row in table.rows:
        found = _check_row(table, row, today)
        if isinstance(found, Entry):
            entries.append(found)
        else:
            rejects.append(found)
    return entries, rejects


def _check_row(table: Table, row: Row, today: date) -> Entry | Reject:
    if row.broken:
        return Reject(row, (Fault("", table.delimiter.join(row.cells), row.broken),))
    cells = dict(zip(table.columns, row.cells, strict=False))
    values: dict[str, Any] = dict(NOTHING)
    faults: list[Fault] = []
    for name, column in COLUMNS.items():
        if cell := cells.get(name, ""):
            try:
                values[name] = column.parse(cell)
            except Wrong as wrong:
                faults.append(Fault(name, cell, str(wrong)))
    faults += _faults_between(cells, values, today)
    if surplus := [cell for cell in row.cells[len(table.columns) :] if cell]:
        mend = f"Keep to the {len(table.columns)} columns of the first line; quote a cell that "
        faults.append(
            Fault("", table.delimiter.join(surplus), f"{mend}holds the delimiter or a line break.")
        )
    if faults:
        order = {name: n for n, name in enumerate(COLUMNS)}
        faults.sort(key=lambda fault: order.get(fault.column, len(order)))
        return Reject(row, tuple(faults))
    extra = tuple((name, cells[name]) for name in table.unknown if cells.get(name))
    return Entry(row=row, extra=extra, digest=_digest(cells), **values)


def _faults_between(cells: dict[str, str], values: dict[str, Any], today: date) -> Iterable[Fault]:
    """Yield what is wrong with cells that can each be read."""
    if not cells.get("organisation"):
        yield Fault("organisation", "", "Name the organisation.")

    if cells.get("session_status") and not cells.get("session_on"):
        yield Fault("session_on", "", "Give the session's day, or leave session_status blank.")
    if values["session_status"] == State.HELD and (values["session_on"] or today) > today:
        yield Fault(
            "session_on",
            cells["session_on"],
            f"A held session is not after today, {today}: write booked, or mend the day.",
        )

    for decision, day in (("decision", "decided_on"), ("later_decision", "later_decided_on")):
        if cells.get(decision) and not cells.get(day):
            yield Fault(day, "", f"Give the day of {decision}.")
        if cells.get(day) and not cells.get(decision):
            yield Fault(decision, "", f"Name what was decided, or leave {day} blank.")
        if (values[day] or today) > today:
            yield Fault(day, cells[day], f"A decision is not taken after today, {today}.")
    first, later = values["decided_on"], values["later_decided_on"]
    if first and later and later < first:
        yield Fault(
            "later_decided_on",
            cells["later_decided_on"],
            f"Give a day on or after decided_on, {first}; or swap the two decisions.",
        )


def _digest(cells: dict[str, str]) -> str:
    filled = sorted((name, cell) for name, cell in cells.items() if cell and name not in IGNORED)
    return hashlib.sha256(json.dumps(filled).encode()).hexdigest()


def last_of(entry: Entry, kind: DecisionKind) -> date | None:
    """Return the day of the row's last decision of this kind; ``None`` where it has none."""
    if entry.later_decision == kind:
        return entry.later_decided_on
    return entry.decided_on if entry.decision == kind else None
