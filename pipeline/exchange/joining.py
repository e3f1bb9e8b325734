"""Join what a sheet says of a lead to what the team knows of it.

Only what is missing is added and only blanks are filled: nothing stored is overwritten, except
that a session goes on from booked to what became of it. What can't be held beside what is there
is kept in the lead's note, once.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, TypeVar

from pipeline.clock.workdays import WorkCalendar
from pipeline.leads.models import Contact, Decision, DecisionKind, Funding
from pipeline.teams.models import Member, Team
from sessions.models import Deliverable, DiscoverySession

from .columns import Expected, written
from .known import Changes, Known
from .names import Names
from .uniting import RANK, Fee, Session, SessionKey, United, in_order

V = TypeVar("V")
# Working days until something is due that no format promises. Common practice, no source.
WITHIN = 5


@dataclass
class Taking:
    """One import: for whom, when, by whom, and what it makes of the rows."""

    team: Team
    names: Names
    now: datetime
    today: date
    member: Member | None
    calendar: WorkCalendar
    changes: Changes = field(default_factory=Changes)
    new: Counter[str] = field(default_factory=Counter)
    matched: Counter[str] = field(default_factory=Counter)

    def recorded(self) -> dict[str, Any]:
        """Return how each new fact was entered; follow-ups of before today are never planned."""
        return {
            "team": self.team,
            "recorded_at": self.now,
            "recorded_by": self.member,
            "plan_from": self.today,
        }


def first_of(stored: V | None, said: Sequence[V]) -> tuple[V | None, list[V]]:
    """Return what stands (the stored value, else the first said), and all that differs."""
    value = said[0] if stored in (None, "") and said else stored
    return value, [v for v in said if v != value]


def join(known: Known, united: United, taking: Taking) -> None:
    """Add to ``known`` what is missing, and note the changes in ``taking``."""
    joining = _Joining(known, united, taking)
    joining.contacts()
    joining.lead()
    joining.sessions()
    joining.deliverables()
    joining.decisions()
    joining.fundings()
    joining.notes()


class _Joining:
    def __init__(self, known: Known, united: United, taking: Taking) -> None:
        self.known, self.united, self.taking = known, united, taking
        self.changes = taking.changes
        self.by_key: dict[SessionKey, DiscoverySession] = {}
        self.left_over: list[str] = []
        self.counted: set[int] = set()

    def lead(self) -> None:
        lead, united = self.known.lead, self.united
        name, odd = first_of(lead.source.name if lead.source else None, united.sources)
        if name and lead.source is None:
            lead.source = self.taking.names.source(name)
            self.changes.fill(lead)
        self.left_over += [f"source: {value}" for value in odd]
        self._fill(lead, "enquired_on", united.enquired_on)
        self._fill(lead, "followed_since", united.followed_since)

        stored = None if lead.expected_fee is None else (lead.expected_fee, lead.currency)
        fee, fees = first_of(stored, united.fees)
        if fee and stored is None:
            if lead.budget_at_entry is None or lead.currency == fee[1]:
                lead.expected_fee, lead.currency = fee
                self.changes.fill(lead)
            else:
                fees = [fee, *fees]
        self.left_over += [f"fee: {_money(value)}" for value in fees]

    def contacts(self) -> None:
        """Unite people by address, else by name; those with an address come first."""
        for name, email in sorted(self.united.contacts, key=lambda said: not said[1]):
            contact = self._contact(name.casefold(), email.casefold())
            if contact is None:
                contact = Contact(
                    team=self.taking.team, lead=self.known.lead, name=name, email=email
                )
                self._make(self.known.contacts, contact)
                continue
            self._match(contact)
            if (email and not contact.email) or (name and not contact.name):
                contact.name, contact.email = contact.name or name, contact.email or email
                self.changes.fill(contact)
            if name and contact.name.casefold() != name.casefold():
                self.left_over.append(f"contact_name: {name} ({contact.email})")

    def _contact(self, name: str, email: str) -> Contact | None:
        people = self.known.contacts
        if email:
            same = [c for c in people if c.email.casefold() == email]
            same += [c for c in people if not c.email and name and c.name.casefold() == name]
        else:
            same = [c for c in people if c.name.casefold() == name]
        return same[0] if same else None

    def sessions(self) -> None:
        for key, said in in_order(self.united.sessions.items()):
            session = self._session(*key)
            if session is None:
                format = self.taking.names.format(key[1])
                session = DiscoverySession(
                    lead=self.known.lead,
                    format=format,
                    day=key[0],
                    state=said.state,
                    minutes=format.minutes if format else 60,
                    **self.taking.recorded(),
                )
                self._make(self.known.sessions, session)
            else:
                self._match(session)
                self._go_on(session, said)
            self.by_key[key] = session
            about = f" (session_on {key[0]})"
            self._fill(session, "attendee_count", said.attendees, "attendees", about)
            column = "effort_unsplit" if session.effort is None else "effort"
            self._fill(session, column, said.effort, "effort_minutes", about)

    def _session(self, day: date, format: str) -> DiscoverySession | None:
        """Return the session of this day and format; without a format, the stored one of the day.

        Of several, as after a cancellation, the one of which most came.
        """
        of_day = [s for s in self.known.sessions if s.day == day]
        same = [s for s in of_day if (s.format.name if s.format else "") == format]
        if not same and not format and len(of_day) == 1 and of_day[0].pk is not None:
            same = of_day
        return max(same, key=lambda s: RANK[s.state], default=None)

    def _go_on(self, session: DiscoverySession, said: Session) -> None:
        if RANK[said.state] > RANK[session.state]:
            session.state = said.state
            session.plan_from = self.taking.today
            self.changes.fill(session)

    def deliverables(self) -> None:
        of = {s.pk: id(s) for s in self.known.sessions if s.pk is not None}
        there = {(of.get(d.session_id or 0), d.title): d for d in self.known.deliverables}
        for (key, title), sent in self.united.deliverables.items():
            session = self.by_key[key] if key else None
            place = (id(session) if session else None, title)
            about = f" ({title})"
            if place not in there:
                there[place] = Deliverable(
                    lead=self.known.lead,
                    session=session,
                    title=title,
                    due_on=self._due_on(session, title, sent),
                    **self.taking.recorded(),
                )
                self._make(self.known.deliverables, there[place])
            else:
                self._match(there[place])
            deliverable = there[place]
            if deliverable.waived_on:
                # it can't be sent and waived at once
                self._left_over("deliverable_sent_on", sent, f" ({title}, which was waived)")
                continue
            if deliverable.sent_on is None and sent:
                deliverable.plan_from = self.taking.today
            self._fill(deliverable, "sent_on", sent, "deliverable_sent_on", about)

    def _due_on(self, session: DiscoverySession | None, title: str, sent: list[date]) -> date:
        if session:
            start = session.day
        else:
            start = self.known.lead.enquired_on or (sent[0] if sent else self.taking.today)
        format = session.format if session else None
        days = self.taking.names.promised_days(format, title)
        return self.taking.calendar.add(start, WITHIN if days is None else days)

    def decisions(self) -> None:
        there = {(d.kind, d.day): d for d in self.known.decisions}
        for (kind, day), said in self.united.decisions.items():
            if (kind, day) not in there:
                there[kind, day] = Decision(
                    lead=self.known.lead, kind=kind, day=day, **self.taking.recorded()
                )
                self._make(self.known.decisions, there[kind, day])
            else:
                self._match(there[kind, day])
            decision = there[kind, day]
            about = f" ({kind}, decided_on {day})"
            stored = None if decision.fee is None else (decision.fee, decision.currency)
            fee, odd = first_of(stored, said.fees)
            if fee and stored is None:
                decision.fee, decision.currency = fee
                self.changes.fill(decision)
            self._left_over("fee", [_money(value) for value in odd], about)
            expected, others = first_of(_expected(decision), said.expected)
            if expected and decision.funding_expected_on is None:
                self._expect(decision, expected)
            self._left_over("funding_expected_on", others, about)
        self._place_expected()

    def _place_expected(self) -> None:
        """Give money that is expected to the latest "no budget yet" that doesn't say when."""
        waiting = sorted(
            (d for d in self.known.decisions if d.kind == DecisionKind.NO_BUDGET),
            key=lambda d: d.day,
        )
        for expected in self.united.expected:
            if any(_expected(decision) == expected for decision in waiting):
                continue
            silent = [d for d in waiting if d.funding_expected_on is None]
            if silent:
                self._expect(silent[-1], expected)
            else:
                self._left_over("funding_expected_on", [expected])

    def _expect(self, decision: Decision, expected: Expected) -> None:
        decision.funding_expected_on = expected.day
        decision.expected_by_month = expected.by_month
        self.changes.fill(decision)

    def fundings(self) -> None:
        there = {funding.arrived_on: funding for funding in self.known.fundings}
        for day in self.united.fundings:
            if day in there:
                self._match(there[day])
            else:
                funding = Funding(lead=self.known.lead, arrived_on=day, **self.taking.recorded())
                self._make(self.known.fundings, funding)

    def notes(self) -> None:
        """Keep in the lead's note what it doesn't say yet. Browsers end lines in their own way."""
        lead = self.known.lead
        said = f"\n{lead.note}\n".replace("\r\n", "\n")
        fresh = []
        for line in dict.fromkeys([*self.united.notes, *self.left_over]):
            if f"\n{line}\n" not in said:
                fresh.append(line)
        if fresh:
            lead.note = "\n".join([lead.note, *fresh] if lead.note else fresh)
            self.changes.fill(lead)

    def _fill(
        self, row: Any, attribute: str, said: Sequence[Any], column: str = "", about: str = ""
    ) -> None:
        stored = getattr(row, attribute)
        value, odd = first_of(stored, said)
        if value != stored:
            setattr(row, attribute, value)
            self.changes.fill(row)
        self._left_over(column or attribute, odd, about)

    def _left_over(self, column: str, values: Sequence[Any], about: str = "") -> None:
        self.left_over += [f"{column}: {value}{about}" for value in values]

    def _make(self, rows: list[Any], row: Any) -> None:
        rows.append(row)
        self.counted.add(id(row))
        self.changes.make(row)
        self.taking.new[_kind(row)] += 1

    def _match(self, row: Any) -> None:
        if id(row) not in self.counted:
            self.counted.add(id(row))
            self.taking.matched[_kind(row)] += 1


def _kind(row: Any) -> str:
    return str(row._meta.verbose_name_plural)


def _money(fee: Fee) -> str:
    return f"{written(fee[0])} {fee[1]}"


def _expected(decision: Decision) -> Expected | None:
    day = decision.funding_expected_on
    return Expected(day, decision.expected_by_month) if day else None
