"""What the weeks behind a team brought, by the days of the facts, and what is late now."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

from django.db.models import QuerySet

from pipeline.clock.workdays import ONE_DAY, WorkCalendar, days_between
from pipeline.clock.zones import week_of
from pipeline.leads.models import Decision, DecisionKind, Funding, Lead, Proposal
from pipeline.teams.models import Team
from pipeline.teams.money import show
from pipeline.teams.templatetags.show import day as in_words
from sessions.clashes import Week, week_at
from sessions.models import Deliverable, DiscoverySession, State

from .due import (
    Item,
    deliverables_of,
    follow_ups_of,
    of_deliverable,
    of_follow_up,
    of_session,
    sessions_of,
)
from .history import index_session, the_return

# So many lines of each kind are shown; the rest is counted.
SHOWN = 40
ONE_WEEK = timedelta(days=7)
MOST_WEEKS = 5


@dataclass(frozen=True)
class Line:
    """One thing that happened, or is late, with the name of its page's address and its key."""

    day: date
    what: str
    lead: Lead
    page: str
    pk: int
    # Of what is late: who is to do it.
    whose: str = ""


@dataclass(frozen=True)
class Part:
    """All of one kind: how many there are, and the first of them."""

    title: str
    count: int
    lines: list[Line]

    @property
    def hidden(self) -> int:
        """How many are only counted."""
        return self.count - len(self.lines)


@dataclass
class Review:
    """What a team's members are told of the weeks ``first`` to ``last``."""

    first: date
    last: date
    parts: list[Part] = field(default_factory=list)
    weeks: list[Week] = field(default_factory=list)

    def __bool__(self) -> bool:
        return bool(self.told)

    @property
    def told(self) -> list[Part]:
        """The kinds of which there is something."""
        return [part for part in self.parts if part.count]

    @property
    def untold(self) -> list[str]:
        """The kinds of which there is nothing, by title."""
        return [part.title for part in self.parts if not part.count]


def weeks_told(calendar: WorkCalendar, today: date) -> tuple[date, date]:
    """Return the days of which the review in the week of ``today`` tells: the week before.

    In a week without a working day nobody was told of the one before, so that comes along.
    """
    monday, _ = week_of(today)
    first = monday - ONE_WEEK
    for _ in range(MOST_WEEKS - 1):
        if any(calendar.is_working(day) for day in days_between(first, first + 6 * ONE_DAY)):
            break
        first -= ONE_WEEK
    return first, monday - ONE_DAY


def review_of(team: Team, first: date, last: date, today: date) -> Review:
    """Return what happened on the days ``first`` to ``last``, and what is late on ``today``.

    The number of queries depends on the number of weeks alone.
    """

    def rows(table: Any, column: str) -> Any:
        days = {f"{column}__gte": first, f"{column}__lte": last}
        of_team = table.objects.for_team(team).filter(lead__merged_into=None, **days)
        return of_team.select_related("lead").order_by(column, "pk")

    sessions = list(rows(DiscoverySession, "day").select_related("lead", "format"))
    decisions = list(rows(Decision, "day"))
    mondays = range(0, (last - first).days, 7)
    return Review(
        first,
        last,
        [
            _part("Sessions held", (_session(s) for s in sessions if s.state == State.HELD)),
            _part("Sessions missed", (_session(s) for s in sessions if s.state == State.MISSED)),
            _part("Promised things sent", map(_sent, rows(Deliverable, "sent_on"))),
            _part("Proposals sent", map(_proposal, rows(Proposal, "sent_on"))),
            _part("Decisions", map(_decision, decisions)),
            _part("Returns", _returns(team, decisions)),
            _part("Money that arrived", map(_funding, rows(Funding, "arrived_on"))),
            _late(team, today),
        ],
        [week_at(team, first + n * ONE_DAY) for n in mondays],
    )


def _part(title: str, lines: Iterable[Line]) -> Part:
    found = list(lines)
    return Part(title, len(found), found[:SHOWN])


def _session(row: DiscoverySession) -> Line:
    return Line(row.day, str(row.format or "Session"), row.lead, "session", row.pk)


def _sent(row: Deliverable) -> Line:
    assert row.sent_on is not None
    late = f", after it was due on {in_words(row.due_on)}" if row.sent_on > row.due_on else ""
    return Line(row.sent_on, row.title + late, row.lead, "deliverable", row.pk)


def _proposal(row: Proposal) -> Line:
    fee = show(row.fee, row.currency)
    what = f"Proposal, {fee}" if fee else "Proposal"
    return Line(row.sent_on, what, row.lead, "lead", row.lead_id)


def _decision(row: Decision) -> Line:
    fee = show(row.fee, row.currency)
    what = f"{row.kind}, {fee}" if fee else row.kind
    return Line(row.day, what, row.lead, "lead", row.lead_id)


def _funding(row: Funding) -> Line:
    return Line(row.arrived_on, "money arrived", row.lead, "lead", row.lead_id)


def _returns(team: Team, decisions: list[Decision]) -> list[Line]:
    """Return the engagements among these decisions with which a lead came back."""
    engaged = [row for row in decisions if row.kind == DecisionKind.ENGAGED]
    back = returns_of(team, {row.lead_id for row in engaged})
    found = []
    for row in engaged:
        engagement, session = back.get(row.lead_id, (None, None))
        if row == engagement:
            earned = f"earned by {told_of(session)}" if session else "without a session before"
            what = f"engaged after “no budget yet”, {earned}"
            found.append(Line(row.day, what, row.lead, "lead", row.lead_id))
    return found


def returns_of(
    team: Team, lead_ids: Collection[int]
) -> dict[int, tuple[Decision, DiscoverySession | None]]:
    """Return for those of these leads that came back by which engagement, and after which session.

    Two queries.
    """

    def by_lead(rows: QuerySet[Any]) -> dict[int, list[Any]]:
        found: dict[int, list[Any]] = {}
        for row in rows:
            found.setdefault(row.lead_id, []).append(row)
        return found

    held = DiscoverySession.objects.for_team(team).held().filter(lead__in=lead_ids)
    sessions = by_lead(held.select_related("format"))
    decisions = by_lead(Decision.objects.for_team(team).filter(lead__in=lead_ids))
    found = {}
    for lead, theirs in decisions.items():
        index = index_session(sessions.get(lead, []))
        if row := the_return(theirs, index.day if index else None):
            found[lead] = (row, index)
    return found


def told_of(session: DiscoverySession) -> str:
    """Return in words which session that was."""
    return f"{session.format or 'the session'} of {in_words(session.day)}"


def _late(team: Team, today: date) -> Part:
    count = 0
    items: list[Item] = []
    for rows, day, item in (
        (follow_ups_of(team, None), "due_on", of_follow_up),
        (deliverables_of(team, None), "due_on", of_deliverable),
        (sessions_of(team, None), "day", of_session),
    ):
        late = rows.filter(**{f"{day}__lt": today})
        count += late.count()
        items += [item(row) for row in late.with_names().order_by(day, "pk")[:SHOWN]]
    items.sort(key=lambda item: (item.day, item.kind, item.row.pk))
    return Part("Late now", count, [_late_line(item) for item in items[:SHOWN]])


def _late_line(item: Item) -> Line:
    whose = item.owner or "nobody’s"
    return Line(item.day, item.what, item.lead, item.kind, item.row.pk, whose)
