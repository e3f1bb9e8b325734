"""From the rows of one lead to its facts: the same kind on the same day counts once.

Nothing is asked of the database here. Where several rows say something that a lead can hold only
once, all that they say is kept in the order of the rows; the first wins when it is written.

Three things belong to a fact that may stand in another row: a fee without an ``engaged`` is the
fee expected of the lead; money expected without a ``no budget yet`` belongs to the latest of the
lead that doesn't say; and what describes a session without its day is a note.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import TypeVar

from pipeline.leads.models import DecisionKind
from sessions.formats import TAKEAWAY
from sessions.models import State

from .checking import Entry, last_of
from .columns import Expected

# What happened outweighs what was only planned.
RANK: dict[str, int] = {State.BOOKED: 0, State.CANCELLED: 1, State.MISSED: 2, State.HELD: 3}

T = TypeVar("T")
SessionKey = tuple[date, str]
Fee = tuple[Decimal, str]


@dataclass(slots=True)
class Session:
    """One session of a day and format. ``order`` puts those first that were first held."""

    state: State
    order: tuple[bool, int]
    attendees: list[int] = field(default_factory=list)
    effort: list[int] = field(default_factory=list)


@dataclass(slots=True)
class Decided:
    """One decision of a kind and day."""

    fees: list[Fee] = field(default_factory=list)
    expected: list[Expected] = field(default_factory=list)


@dataclass(slots=True)
class United:
    """All that the sheet says of one lead."""

    organisation: str
    sources: list[str] = field(default_factory=list)
    enquired_on: list[date] = field(default_factory=list)
    followed_since: list[date] = field(default_factory=list)
    fees: list[Fee] = field(default_factory=list)
    # Money expected in rows without a "no budget yet".
    expected: list[Expected] = field(default_factory=list)
    # (name, address)
    contacts: list[tuple[str, str]] = field(default_factory=list)
    sessions: dict[SessionKey, Session] = field(default_factory=dict)
    # Days sent, by session (None: no session named) and title.
    deliverables: dict[tuple[SessionKey | None, str], list[date]] = field(default_factory=dict)
    decisions: dict[tuple[str, date], Decided] = field(default_factory=dict)
    fundings: list[date] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def unite(entries: Sequence[Entry], *, currency: str) -> United:
    """Return what these rows say together. ``currency`` is that of a fee that names none."""
    united = United(entries[0].organisation)
    for order, entry in enumerate(entries):
        _add(united.sources, entry.source)
        _add(united.enquired_on, entry.enquired_on)
        _add(united.followed_since, entry.followed_since)
        if entry.contact_name or entry.contact_email:
            _add(united.contacts, (entry.contact_name, entry.contact_email))
        _add(united.fundings, entry.funding_arrived_on)
        _unite_session(united, entry, order)
        _unite_decisions(united, entry, currency)
        for column, value in entry.extra:
            _add(united.notes, f"{column}: {value}")
    return united


def _add(values: list[T], value: T | None) -> None:
    """Append a value that is not blank and not there yet."""
    if value not in (None, "") and value not in values:
        values.append(value)


def _unite_session(united: United, entry: Entry, order: int) -> None:
    key = None
    if entry.session_on:
        key = (entry.session_on, entry.format)
        state = State(entry.session_status or State.BOOKED)
        place = (state != State.HELD, order)
        session = united.sessions.setdefault(key, Session(state, place))
        session.state = max(session.state, state, key=RANK.__getitem__)
        session.order = min(session.order, place)
        _add(session.attendees, entry.attendees)
        _add(session.effort, entry.effort_minutes)
    else:
        for column in ("format", "attendees", "effort_minutes"):
            if (value := getattr(entry, column)) not in (None, ""):
                _add(united.notes, f"{column} (without session_on): {value}")
    if entry.deliverable or entry.deliverable_sent_on:
        # a day sent that names nothing is that of the takeaway
        title = entry.deliverable or TAKEAWAY
        _add(united.deliverables.setdefault((key, title), []), entry.deliverable_sent_on)


def _unite_decisions(united: United, entry: Entry, currency: str) -> None:
    for kind, day in (
        (entry.decision, entry.decided_on),
        (entry.later_decision, entry.later_decided_on),
    ):
        if day:
            united.decisions.setdefault((kind, day), Decided())
    if entry.fee is not None:
        engaged = last_of(entry, DecisionKind.ENGAGED)
        fees = united.decisions[DecisionKind.ENGAGED, engaged].fees if engaged else united.fees
        _add(fees, (entry.fee, entry.currency or currency))
    if entry.funding_expected_on:
        waits = last_of(entry, DecisionKind.NO_BUDGET)
        if waits:
            _add(
                united.decisions[DecisionKind.NO_BUDGET, waits].expected,
                entry.funding_expected_on,
            )
        else:
            _add(united.expected, entry.funding_expected_on)


def in_order(sessions: Iterable[tuple[SessionKey, Session]]) -> list[tuple[SessionKey, Session]]:
    """Return sessions with the held ones first, in the order of their rows.

    Of two that were held on one day, the one entered first is the index session.
    """
    return sorted(sessions, key=lambda item: item[1].order)
