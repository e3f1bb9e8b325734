"""Bring leads' follow-ups into line with what their facts ask for."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from django.db import transaction

from pipeline.clock.months import month_end
from pipeline.clock.workdays import WorkCalendar
from pipeline.leads.models import ENDS_WORK, Decision, DecisionKind, Funding, Lead, Proposal
from pipeline.teams.models import Team
from sessions.models import Deliverable, DiscoverySession, State

from .models import FollowUp, FollowUpState, Trigger
from .planning import (
    FOLLOWED_BY,
    Edition,
    Fact,
    Wanted,
    edition_of,
    ended_by,
    fact_key,
    in_words,
    needless,
    plan,
)
from .plans import in_force

NO_LONGER = "no longer applies"
PLAN_CHANGED = "the plan changed on"

CHANGED_BY_PLAN = (
    "key",
    "because",
    "planned_on",
    "due_on",
    "state",
    "reason",
    "closed_on",
    "version",
)


@dataclass
class Known:
    """What is known of one lead: its facts, in order, and when decisions were recorded."""

    owner: int | None
    facts: list[Fact] = field(default_factory=list)
    # the last moment at which the decision that ends the work was recorded, by its key
    recorded_at: dict[str, datetime] = field(default_factory=dict)


def facts_of(team: Team, lead_ids: Collection[int], today: date) -> dict[int, Known]:
    """Return the facts of these leads up to ``today``, in six queries whatever their number."""
    leads = Lead.objects.for_team(team).filter(pk__in=lead_ids)
    found = {pk: Known(owner) for pk, owner in leads.values_list("pk", "owner_id")}

    def rows(table: Any, day: str, *columns: str, **only: Any) -> Any:
        only |= {"lead__in": list(found), f"{day}__lte": today}
        of_these = table.objects.for_team(team).filter(**only)
        return of_these.order_by(day, "pk").values_list(
            "lead_id", day, "plan_from", "recorded_by_id", "recorded_at", *columns
        )

    for lead, day, since, by, at, marked_by, marked_at, title in rows(
        Deliverable, "sent_on", "marked_by_id", "marked_at", "title"
    ):
        found[lead].facts.append(
            Fact(
                Trigger.DELIVERABLE_SENT,
                day,
                title,
                plan_from=since,
                recorded_by=marked_by or by,
                recorded_at=marked_at or at,
            )
        )
    for lead, day, since, by, at, marked_by, marked_at in rows(
        DiscoverySession, "day", "marked_by_id", "marked_at", state=State.MISSED
    ):
        found[lead].facts.append(
            Fact(
                Trigger.SESSION_MISSED,
                day,
                plan_from=since,
                recorded_by=marked_by or by,
                recorded_at=marked_at or at,
            )
        )
    for lead, day, since, by, at in rows(Proposal, "sent_on"):
        found[lead].facts.append(
            Fact(Trigger.PROPOSAL_SENT, day, plan_from=since, recorded_by=by, recorded_at=at)
        )
    for lead, day, since, by, at, kind, expected, by_month in rows(
        Decision, "day", "kind", "funding_expected_on", "expected_by_month"
    ):
        if kind != DecisionKind.NO_BUDGET:
            expected = None
        fact = Fact(
            kind,
            day,
            expected_on=expected,
            expected_until=month_end(expected) if expected and by_month else expected,
            plan_from=since,
            recorded_by=by,
            recorded_at=at,
        )
        found[lead].facts.append(fact)
        if kind in ENDS_WORK:
            found[lead].recorded_at[fact.key] = at
    for lead, day, since, by, at in rows(Funding, "arrived_on"):
        found[lead].facts.append(
            Fact(Trigger.FUNDING_ARRIVED, day, plan_from=since, recorded_by=by, recorded_at=at)
        )
    return found


@transaction.atomic
def settle(team: Team, lead_ids: Collection[int], now: datetime) -> None:
    """Make, move, end and re-open the follow-ups of these leads as their facts ask.

    What a member has done or dropped stays as it is. Settling twice changes nothing; the number
    of queries does not depend on the number of leads.
    """
    write(compare(team, lead_ids, now, lock=True))


def compare(
    team: Team,
    lead_ids: Collection[int],
    now: datetime,
    *,
    editions: Sequence[Edition] | None = None,
    lock: bool = False,
) -> list[Settled]:
    """Return, lead by lead, what settling would make and change; nothing is written.

    ``editions``: by which to plan; without them by those that the team has.
    """
    known = facts_of(team, lead_ids, team.today(now))
    calendar = team.calendar()
    stored: dict[int, list[FollowUp]] = {pk: [] for pk in known}
    rows = FollowUp.objects.for_team(team).filter(lead__in=list(known)).order_by("pk")
    # Locked, so that nobody marks one done between the reading and the writing.
    for row in rows.select_for_update() if lock else rows:
        stored[row.lead_id].append(row)
    if editions is None:
        # Read after the lock: who waited for a move of the open ones goes by what it told.
        editions = in_force(team)
    found = [Settled(team, pk, lead, stored[pk], now) for pk, lead in known.items()]
    for settled in found:
        settled.run(editions, calendar)
    return found


def write(compared: Sequence[Settled]) -> None:
    """Store what was compared, in the transaction that compared and locked it."""
    made = [row for lead in compared for row in lead.made]
    changed = [row for lead in compared for row in lead.changed]
    FollowUp.objects.bulk_create(made, ignore_conflicts=True, batch_size=500)
    # An upsert of rows that are there: ten times as quick as bulk_update's CASE for each value.
    FollowUp.objects.bulk_create(
        changed,
        update_conflicts=True,
        unique_fields=["id"],
        update_fields=CHANGED_BY_PLAN,
        batch_size=500,
    )


class Settled:
    """One lead's follow-ups, brought into line in memory."""

    def __init__(
        self, team: Team, lead: int, known: Known, stored: list[FollowUp], now: datetime
    ) -> None:
        self.team, self.lead, self.known, self.now = team, lead, known, now
        self.today = team.today(now)
        self.by_hand = [row for row in stored if row.planned_on is None]
        self.planned = [row for row in stored if row.planned_on is not None]
        self.facts = {fact.key: fact for fact in known.facts}
        self.before = {row.pk: (row.state, row.due_on) for row in stored}
        self.made: list[FollowUp] = []
        self.changed: list[FollowUp] = []

    def run(self, editions: Sequence[Edition], calendar: WorkCalendar) -> None:
        """Compare what is stored with what is wanted, and note what is to be written."""
        wanted = {item.key: item for item in plan(self.known.facts, editions, calendar)}
        self._follow_corrections(wanted)
        stored = {row.key: row for row in self.planned}
        for key, item in wanted.items():
            row = stored.get(key)
            day = item.day(row.planned_on if row else None, calendar)
            if day is None or (row is None and self._answered(item)):
                continue
            if row is None:
                self.made.append(self._new(item, day))
            else:
                self._keep(row, day)
        for key, row in stored.items():
            if key not in wanted:
                self._end(row, self._reason(row, editions))
        self._settle_by_hand()

    def _follow_corrections(self, wanted: dict[str, Wanted]) -> None:
        """Let open follow-ups of a fact whose day was corrected go along with it."""
        stored = {row.key for row in self.planned}
        strays = {
            _without_day(row.key): row
            for row in self.planned
            if row.state == FollowUpState.OPEN and fact_key(row.key) not in self.facts
        }
        for key, item in wanted.items():
            if key not in stored and (row := strays.pop(_without_day(key), None)):
                row.key, row.because = key, item.fact.words
                self._touch(row)

    def _answered(self, item: Wanted) -> bool:
        """Tell whether a member closed this very thing before the fact's day was corrected."""
        return any(
            row.state in (FollowUpState.DONE, FollowUpState.DROPPED)
            and fact_key(row.key) not in self.facts
            and _without_day(row.key) == _without_day(item.key)
            and row.closed_on is not None
            and row.closed_on >= item.fact.day
            for row in self.planned
        )

    def _new(self, item: Wanted, day: date) -> FollowUp:
        return FollowUp(
            team=self.team,
            lead_id=self.lead,
            key=item.key,
            action=item.action,
            because=item.fact.words,
            due_on=day,
            planned_on=day,
            owner_id=self.known.owner or item.fact.recorded_by,
            created_at=self.now,
        )

    def _keep(self, row: FollowUp, day: date) -> None:
        if row.state == FollowUpState.ENDED:
            self._reopen(row)
        if row.state == FollowUpState.OPEN and row.planned_on != day:
            if row.due_on == row.planned_on:
                row.due_on = day
            row.planned_on = day
            self._touch(row)

    def _reason(self, row: FollowUp, editions: Sequence[Edition]) -> str:
        fact = self.facts.get(fact_key(row.key))
        if fact and (why := needless(fact, self.known.facts)):
            return why
        edition = edition_of(fact, editions) if fact else None
        if fact and edition and edition.made_at and not edition.asks(row.key):
            return f"{PLAN_CHANGED} {in_words(edition.since(fact) or self.today)}"
        return f"{NO_LONGER}: {row.because}"

    def _reasons(self, row: FollowUp) -> set[str]:
        """Return the reasons that still name a fact: the first that ended a row stays with it."""
        named = {fact.words for fact in self.known.facts}
        named |= {f"{FOLLOWED_BY} {words}" for words in named}
        if row.reason.startswith(PLAN_CHANGED) and fact_key(row.key) in self.facts:
            named.add(row.reason)
        return named | {f"{NO_LONGER}: {row.because}"}

    def _settle_by_hand(self) -> None:
        """End what was added by hand before the work was over; re-open it if it is not."""
        ending = ended_by(self.known.facts)
        over_at = self.known.recorded_at[ending.key] if ending else None
        for row in self.by_hand:
            if ending and over_at and row.created_at <= over_at:
                self._end(row, ending.words)
            elif row.state == FollowUpState.ENDED:
                self._reopen(row)

    def _end(self, row: FollowUp, reason: str) -> None:
        if row.state == FollowUpState.ENDED and row.reason not in self._reasons(row):
            row.reason = reason
            self._touch(row)
        elif row.state == FollowUpState.OPEN:
            row.state, row.reason, row.closed_on = FollowUpState.ENDED, reason, self.today
            self._touch(row)

    def _reopen(self, row: FollowUp) -> None:
        row.state, row.reason, row.closed_on = FollowUpState.OPEN, "", None
        self._touch(row)

    def _touch(self, row: FollowUp) -> None:
        if row not in self.changed:
            row.version += 1
            self.changed.append(row)


def _without_day(key: str) -> tuple[str, str]:
    trigger, _, rest = key.partition("|")
    return trigger, rest.partition("|")[2]
