"""Due days, held against another program's arithmetic of days.

Sources: working days by NumPy's busday_offset, whose "backward" roll starts to count at the last
working day up to the given one; weeks and months by the recurrence rules of python-dateutil's
rrule (RFC 5545), where the last of the days 28 to n of a month (BYSETPOS=-1) clips n to the
month's end; public holidays of the holidays library, which are held against published lists in
tests/clock.
"""

from __future__ import annotations

from datetime import date, datetime, time

import holidays
import numpy as np
import pytest
from dateutil.rrule import MONTHLY, WEEKLY, rrule
from hypothesis import example, given
from hypothesis import strategies as st

from pipeline.clock.workdays import WorkCalendar
from pipeline.followups.models import PlanStep
from pipeline.followups.planning import Fact, due_day

# Of years far away the library knows no movable feasts of some countries, and says so.
pytestmark = pytest.mark.filterwarnings("ignore:Requested Holidays are available only")

PLACES = [("", ""), ("PT", ""), ("US", "NY"), ("DE", "BY"), ("JP", ""), ("IN", "MH"), ("IL", "")]
WEEKS = [{0, 1, 2, 3, 4}, {6, 0, 1, 2, 3}, {0, 1, 2, 3}, {1, 3}, set(range(7))]
DAYS = st.dates(date(2000, 1, 1), date(2040, 12, 31))
COUNTS = st.integers(0, 40)
TURNS = st.integers(1, 8)


class Other:
    """The same calendar of working days in the other program's terms."""

    def __init__(self, calendar: WorkCalendar, first: date, last: date) -> None:
        off = set(calendar.days_off)
        if calendar.country:
            years = range(first.year, last.year + 2)
            off |= set(
                holidays.country_holidays(
                    calendar.country, subdiv=calendar.subdivision or None, years=years
                )
            )
        self.mask = [day in calendar.weekdays for day in range(7)]
        self.off = sorted(off)

    def roll(self, day: date, count: int = 0, roll: str = "forward") -> date:
        found = np.busday_offset(day, count, roll=roll, weekmask=self.mask, holidays=self.off)
        return found.astype(date)


def other_due_day(fact: Fact, step: PlanStep, turn: int, calendar: WorkCalendar) -> date | None:
    """Return what the other program says is the due day."""
    start, count = fact.day, step.count * turn
    if step.unit in ("weeks before funding", "weeks after expected"):
        before = step.unit == "weeks before funding"
        money = fact.expected_on if before else fact.expected_until
        if money is None:
            return None
        weeks = np.timedelta64(-count if before else count, "W")
        raw = (np.datetime64(money) + weeks).astype(date)
        if raw < start and turn > 1:
            return None
        raw = max(raw, start)
    elif step.unit == "weeks":
        raw = nth(start, WEEKLY, step.count, turn)
    elif step.unit == "months":
        clipped = [start.day] if start.day <= 28 else list(range(28, start.day + 1))
        raw = nth(start.replace(day=1), MONTHLY, step.count, turn, bymonthday=clipped, bysetpos=-1)
        raw = raw if step.count else start
    else:
        there = Other(calendar, start, date(start.year + 8, 1, 1))
        return there.roll(start, count, "backward" if count else "forward")
    return Other(calendar, raw, raw).roll(raw)


def nth(start: date, frequency: int, interval: int, turn: int, **rule: object) -> date:
    """Return the recurrence of number ``turn`` after the first."""
    if not interval:
        return start
    dtstart = datetime.combine(start, time())
    rules = rrule(frequency, interval=interval, count=turn + 1, dtstart=dtstart, **rule)
    return list(rules)[-1].date()


CALENDARS = st.builds(
    lambda place, week, days_off: WorkCalendar(
        country=place[0],
        subdivision=place[1],
        weekdays=frozenset(week),
        days_off=frozenset(days_off),
    ),
    st.sampled_from(PLACES),
    st.sampled_from(WEEKS),
    st.lists(DAYS, max_size=5),
)
LISBON = WorkCalendar(country="PT")


@given(
    DAYS,
    st.none() | DAYS,
    st.sampled_from(
        ["working days", "weeks", "months", "weeks before funding", "weeks after expected"]
    ),
    COUNTS,
    TURNS,
    CALENDARS,
)
@example(date(2024, 1, 31), None, "months", 1, 1, LISBON)
@example(date(2023, 10, 31), None, "months", 4, 1, LISBON)
@example(date(2024, 2, 29), None, "months", 12, 4, LISBON)
@example(date(2026, 4, 1), None, "working days", 2, 1, LISBON)
@example(date(2026, 12, 24), None, "working days", 1, 1, LISBON)
@example(date(2026, 5, 30), date(2026, 6, 1), "weeks before funding", 2, 1, LISBON)
def test_every_due_day_is_the_one_that_another_program_finds(
    day, expected_on, unit, count, turn, calendar
):
    fact = Fact("no budget yet", day, expected_on=expected_on, expected_until=expected_on)
    step = PlanStep(trigger="no budget yet", position=1, count=count, unit=unit, times=8)
    assert due_day(fact, step, turn, calendar) == other_due_day(fact, step, turn, calendar)


@pytest.mark.parametrize(
    ("count", "day", "due"),
    [
        # RFC 5545, 3.3.10: a rule that names a day a month has not skips that month; ours clips,
        # as RFC 7529's SKIP=BACKWARD says: 31 January, then the last of February.
        (1, "2026-01-31", "2026-02-28"),
        (1, "2024-01-31", "2024-02-29"),
        (3, "2025-11-30", "2026-02-28"),
        (6, "2025-08-31", "2026-02-28"),
        (12, "2024-02-29", "2025-02-28"),
        # four years on the day is there again: each turn is counted from the fact
        (48, "2024-02-29", "2028-02-29"),
    ],
)
def test_the_day_that_a_month_has_not_is_its_last(count, day, due):
    every_day = WorkCalendar(weekdays=frozenset(range(7)))
    step = PlanStep(trigger="gone quiet", position=1, count=count, unit="months")
    fact = Fact("gone quiet", date.fromisoformat(day))
    assert due_day(fact, step, 1, every_day) == date.fromisoformat(due)
