"""What a team's plan wants done for a lead: a pure function of the lead's facts."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.utils.dateformat import format as date_words

from pipeline.clock.months import add_months
from pipeline.clock.workdays import WorkCalendar
from pipeline.leads.models import ENDS_WORK, DecisionKind

from .models import PlanStep, Trigger, Unit

DECISIONS = frozenset(DecisionKind.values)
FOLLOWED_BY = "followed by"


@dataclass(frozen=True)
class Fact:
    """One fact of a lead from which follow-ups may be counted.

    Facts of one day count in the order in which they are given.
    """

    trigger: str
    day: date
    # Of a deliverable: which one.
    title: str = ""
    # Of "no budget yet": the day, or the first of the month, for which money is expected.
    expected_on: date | None = None
    # That day, or the last of that month.
    expected_until: date | None = None
    # Nothing due before this day is wanted; None: everything is.
    plan_from: date | None = None
    recorded_by: int | None = None
    # None: before every edition of the plan that somebody made.
    recorded_at: datetime | None = None

    @property
    def key(self) -> str:
        """What tells this fact from the lead's others, the same wherever it is recorded."""
        return f"{self.trigger}|{self.day.isoformat()}|{self.title}"

    @property
    def words(self) -> str:
        """The fact in words, with its day."""
        day = in_words(self.day)
        match self.trigger:
            case Trigger.DELIVERABLE_SENT:
                return f"{self.title or 'deliverable'} sent on {day}"
            case Trigger.SESSION_MISSED:
                return f"session of {day} missed"
            case _:
                return f"{self.trigger} on {day}"


@dataclass(frozen=True)
class Edition:
    """A plan as it stood after one change."""

    number: int
    steps: Sequence[PlanStep]
    # None: it holds from the start.
    made_at: datetime | None = None
    # The day since which it holds for facts recorded before it was made; None: it does not.
    everywhere_from: date | None = None

    def since(self, fact: Fact) -> date | None:
        """Return the day since which an older ``fact`` goes by it; ``None`` for a newer one."""
        return self.everywhere_from if self._is_newer_than(fact) else None

    def holds_for(self, fact: Fact) -> bool:
        """Tell whether it was there when ``fact`` was recorded, or holds everywhere since."""
        return self.everywhere_from is not None or not self._is_newer_than(fact)

    def asks(self, key: str) -> bool:
        """Tell whether step and turn in a follow-up's ``key`` are part of it."""
        told = step_of(key)
        return told is not None and any(
            (step.trigger, step.position) == told[:2] and told[2] <= step.times
            for step in self.steps
        )

    def _is_newer_than(self, fact: Fact) -> bool:
        if self.made_at is None:
            return False
        return fact.recorded_at is None or fact.recorded_at < self.made_at


@dataclass(frozen=True)
class Wanted:
    """One follow-up that the plan asks for."""

    fact: Fact
    position: int
    turn: int
    action: str
    due_on: date
    # Of a fact older than the plan: since when it goes by it.
    since: date | None = None

    @property
    def key(self) -> str:
        """What tells this follow-up from the lead's others: fact, step and turn."""
        return f"{self.fact.key}|{self.position}|{self.turn}"

    def day(self, planned_on: date | None, calendar: WorkCalendar) -> date | None:
        """Return its day, where it is now planned for ``planned_on`` (``None``: not yet there).

        What a changed plan would have asked before it held for the fact is not asked any more
        (``None``); what is there already is due on the day of the change, and stays late if it
        was late before.
        """
        if self.since is None or self.due_on >= self.since:
            return self.due_on
        return calendar.on_or_after(min(planned_on, self.since)) if planned_on else None


def fact_key(key: str) -> str:
    """Return the key of the fact from the key of a follow-up that was planned from it."""
    return key.rsplit("|", 2)[0]


def step_of(key: str) -> tuple[str, int, int] | None:
    """Return trigger, the step's lasting number and turn from a follow-up's key.

    ``None`` for one that was added by hand.
    """
    parts = key.rsplit("|", 2)
    if len(parts) < 3 or not (parts[1].isdecimal() and parts[2].isdecimal()):
        return None
    return key.partition("|")[0], int(parts[1]), int(parts[2])


def in_words(day: date) -> str:
    """Return a day as a sentence holds it: ``3 Mar 2026``."""
    return date_words(day, "j M Y")


def edition_of(fact: Fact, editions: Iterable[Edition]) -> Edition | None:
    """Return the edition that ``fact`` goes by: the newest that holds for it."""
    holding = [edition for edition in editions if edition.holds_for(fact)]
    return max(holding, key=lambda edition: edition.number, default=None)


def plan(
    facts: Sequence[Fact], editions: Sequence[Edition], calendar: WorkCalendar
) -> list[Wanted]:
    """Return the follow-ups that a plan asks for after ``facts``, in order of their days.

    Every due day is a working day. What a later fact has made needless is left out.
    """
    wanted: dict[str, Wanted] = {}
    for fact in facts:
        edition = edition_of(fact, editions)
        if edition is None or needless(fact, facts):
            continue
        since = edition.since(fact)
        for step in edition.steps:
            if step.trigger != fact.trigger:
                continue
            for turn in range(1, step.times + 1):
                due = due_day(fact, step, turn, calendar)
                if due is None:
                    continue
                if fact.plan_from and due < fact.plan_from and not (since and due < since):
                    continue
                item = Wanted(fact, step.position, turn, step.action, due, since)
                wanted.setdefault(item.key, item)
    return sorted(wanted.values(), key=lambda item: (item.due_on, item.key))


def due_day(fact: Fact, step: PlanStep, turn: int, calendar: WorkCalendar) -> date | None:
    """Return the working day of a step's ``turn``; ``None`` where the step has none.

    A step counted from expected money that would lie before the fact itself is due at once.
    """
    count = step.count * turn
    match step.unit:
        case Unit.WORKING_DAYS:
            return calendar.add(fact.day, count)
        case Unit.WEEKS:
            return calendar.on_or_after(_shifted(fact.day, weeks=count))
        case Unit.MONTHS:
            return calendar.on_or_after(add_months(fact.day, count))
        case Unit.WEEKS_BEFORE_FUNDING:
            return _of_money(fact, fact.expected_on, -count, turn, calendar)
        case Unit.WEEKS_AFTER_EXPECTED:
            return _of_money(fact, fact.expected_until, count, turn, calendar)
    raise ValueError(f"unknown unit {step.unit!r}")


def _of_money(
    fact: Fact, expected: date | None, weeks: int, turn: int, calendar: WorkCalendar
) -> date | None:
    if expected is None:
        return None
    day = _shifted(expected, weeks=weeks)
    if day < fact.day and turn > 1:
        return None
    return calendar.on_or_after(max(day, fact.day))


def _shifted(day: date, *, weeks: int) -> date:
    try:
        return day + timedelta(weeks=weeks)
    except OverflowError:
        return date.max if weeks > 0 else date.min


def needless(fact: Fact, facts: Sequence[Fact]) -> str:
    """Return in words why nothing more follows from ``fact``; empty while its steps stand."""
    ending = ended_by(facts)
    if ending and ending is not fact and fact.day <= ending.day:
        return ending.words

    newest = _newest(facts, DECISIONS)
    if newest and newest is not fact and _answers(newest, fact):
        return f"{FOLLOWED_BY} {newest.words}"

    if fact.trigger == Trigger.NO_BUDGET:
        arrived = _newest(facts, {Trigger.FUNDING_ARRIVED})
        if arrived and arrived.day >= fact.day:
            return arrived.words
    return ""


def ended_by(facts: Sequence[Fact]) -> Fact | None:
    """Return the newest decision after which nothing more is to be done to win the lead."""
    return _newest(facts, ENDS_WORK)


def _newest(facts: Sequence[Fact], triggers: Iterable[str]) -> Fact | None:
    found = None
    for fact in facts:
        if fact.trigger in triggers and (found is None or fact.day >= found.day):
            found = fact
    return found


def _answers(decision: Fact, fact: Fact) -> bool:
    """Tell whether the newest decision stands in place of what follows from ``fact``.

    On one day a decision is newer than a proposal, and money newer than a decision.
    """
    if fact.trigger in DECISIONS:
        return True
    if fact.trigger == Trigger.PROPOSAL_SENT:
        return fact.day <= decision.day
    return fact.trigger == Trigger.FUNDING_ARRIVED and fact.day < decision.day
