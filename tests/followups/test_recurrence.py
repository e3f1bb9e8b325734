"""Offsets that repeat, held against the standards' own examples and another program.

Sources: RFC 5545, section 3.8.5.3, the examples of recurrence rules that "every n days, weeks or
months, at most m times" can say, each by its rule and the days that stand below it there; RFC
7529, its example of SKIP=BACKWARD, for the end of the month. The other
program is python-dateutil 2.9.
"""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

import pytest
from dateutil.relativedelta import relativedelta
from dateutil.rrule import rrulestr
from hypothesis import given
from hypothesis import strategies as st

from pipeline.clock.workdays import WorkCalendar
from pipeline.followups.models import Trigger, Unit
from pipeline.followups.planning import due_day
from tests.followups.planning import fact, step

# A recurrence knows no holidays and no weekends.
EVERY_DAY = WorkCalendar(weekdays=frozenset(range(7)))
DAYS, WEEKS, MONTHS = Unit.WORKING_DAYS, Unit.WEEKS, Unit.MONTHS


def days(*words: str) -> list[date]:
    """Return the days of lines such as ``1997-09: 2 9 16``."""
    found = []
    for line in words:
        month, _, numbers = line.partition(":")
        found += [date.fromisoformat(f"{month}-{int(n):02}") for n in numbers.split()]
    return found


def turns(start: date, count: int, unit: Unit, times: int) -> list[date]:
    """Return a fact's day and the days of the step that repeats after it."""
    of = fact(Trigger.QUIET, start.isoformat())
    every = step(Trigger.QUIET, count, unit, times=times)
    found = [due_day(of, every, turn, EVERY_DAY) for turn in range(1, times + 1)]
    return [start, *(day for day in found if day)]


# (rule, the step as (count, unit), the facts' days, the days that the RFC names)
EXAMPLES = {
    "daily for 10 occurrences": (
        "FREQ=DAILY;COUNT=10",
        (1, DAYS),
        days("1997-09: 2"),
        days("1997-09: 2 3 4 5 6 7 8 9 10 11"),
    ),
    "every 10 days, 5 occurrences": (
        "FREQ=DAILY;INTERVAL=10;COUNT=5",
        (10, DAYS),
        days("1997-09: 2"),
        days("1997-09: 2 12 22", "1997-10: 2 12"),
    ),
    "weekly for 10 occurrences": (
        "FREQ=WEEKLY;COUNT=10",
        (1, WEEKS),
        days("1997-09: 2"),
        days("1997-09: 2 9 16 23 30", "1997-10: 7 14 21 28", "1997-11: 4"),
    ),
    "every other week": (
        "FREQ=WEEKLY;INTERVAL=2;WKST=SU;COUNT=13",
        (2, WEEKS),
        days("1997-09: 2"),
        days(
            "1997-09: 2 16 30",
            "1997-10: 14 28",
            "1997-11: 11 25",
            "1997-12: 9 23",
            "1998-01: 6 20",
            "1998-02: 3 17",
        ),
    ),
    "weekly on Tuesday and Thursday for five weeks": (
        "FREQ=WEEKLY;COUNT=10;WKST=SU;BYDAY=TU,TH",
        (1, WEEKS),
        days("1997-09: 2 4"),
        days("1997-09: 2 4 9 11 16 18 23 25 30", "1997-10: 2"),
    ),
    "every other week on Monday, Wednesday and Friday until 24 December 1997": (
        "FREQ=WEEKLY;INTERVAL=2;UNTIL=19971224T000000;WKST=SU;BYDAY=MO,WE,FR",
        (2, WEEKS),
        days("1997-09: 1 3 5"),
        days(
            "1997-09: 1 3 5 15 17 19 29",
            "1997-10: 1 3 13 15 17 27 29 31",
            "1997-11: 10 12 14 24 26 28",
            "1997-12: 8 10 12 22",
        ),
    ),
    "every other week on Tuesday and Thursday, for 8 occurrences": (
        "FREQ=WEEKLY;INTERVAL=2;COUNT=8;WKST=SU;BYDAY=TU,TH",
        (2, WEEKS),
        days("1997-09: 2 4"),
        days("1997-09: 2 4 16 18 30", "1997-10: 2 14 16"),
    ),
    "monthly on the 2nd and 15th for 10 occurrences": (
        "FREQ=MONTHLY;COUNT=10;BYMONTHDAY=2,15",
        (1, MONTHS),
        days("1997-09: 2 15"),
        days("1997-09: 2 15", "1997-10: 2 15", "1997-11: 2 15", "1997-12: 2 15", "1998-01: 2 15"),
    ),
    "every 18 months on the 10th thru 15th for 10 occurrences": (
        "FREQ=MONTHLY;INTERVAL=18;COUNT=10;BYMONTHDAY=10,11,12,13,14,15",
        (18, MONTHS),
        days("1997-09: 10 11 12 13 14 15"),
        days("1997-09: 10 11 12 13 14 15", "1999-03: 10 11 12 13"),
    ),
    "yearly in June and July for 10 occurrences": (
        "FREQ=YEARLY;COUNT=10;BYMONTH=6,7",
        (12, MONTHS),
        days("1997-06: 10", "1997-07: 10"),
        [date(year, month, 10) for year in range(1997, 2002) for month in (6, 7)],
    ),
    "every other year on January, February and March for 10 occurrences": (
        "FREQ=YEARLY;INTERVAL=2;COUNT=10;BYMONTH=1,2,3",
        (24, MONTHS),
        days("1997-03: 10", "1999-01: 10", "1999-02: 10"),
        [
            date(1997, 3, 10),
            *(date(year, month, 10) for year in (1999, 2001, 2003) for month in (1, 2, 3)),
        ],
    ),
}


@pytest.mark.parametrize("name", EXAMPLES)
def test_an_offset_that_repeats_gives_the_days_of_rfc_5545(name):
    rule, (count, unit), facts, expected = EXAMPLES[name]
    # The first day there is the fact's own; a step comes after it.
    found = sorted(day for start in facts for day in turns(start, count, unit, len(expected)))
    assert found[: len(expected)] == expected
    start = datetime.combine(facts[0], time(9))
    assert [day.date() for day in rrulestr(rule, dtstart=start)] == expected


def test_at_most_so_many_times_ends_where_the_count_of_the_rule_ends():
    expected = EXAMPLES["weekly for 10 occurrences"][3]
    assert turns(expected[0], 1, WEEKS, 9) == expected


def test_the_end_of_a_month_goes_backward_as_in_rfc_7529_and_never_drifts():
    # RSCALE=GREGORIAN;FREQ=MONTHLY;SKIP=BACKWARD;COUNT=4 from 31 January 2014
    expected = days("2014-01: 31", "2014-02: 28", "2014-03: 31", "2014-04: 30")
    assert turns(date(2014, 1, 31), 1, MONTHS, 3) == expected
    # the day of birth of those born on 29 February, in the years without one
    assert turns(date(2012, 2, 29), 12, MONTHS, 4)[1:] == days(
        "2013-02: 28", "2014-02: 28", "2015-02: 28", "2016-02: 29"
    )


def test_where_rfc_5545_leaves_out_a_day_that_is_not_there_ours_goes_backward():
    # FREQ=MONTHLY;BYMONTHDAY=15,30;COUNT=5 from 15 January 2007: no 30 February
    omitted = days("2007-01: 15 30", "2007-02: 15", "2007-03: 15 30")
    ours = [*turns(date(2007, 1, 15), 1, MONTHS, 2), *turns(date(2007, 1, 30), 1, MONTHS, 2)]
    assert set(ours) - set(omitted) == {date(2007, 2, 28)}
    assert set(omitted) <= set(ours)


starts = st.dates(date(1990, 1, 1), date(2090, 1, 1))


@given(start=starts, count=st.integers(1, 30), times=st.integers(1, 24))
def test_months_are_those_of_another_program(start, count, times):
    expected = [start + relativedelta(months=count * turn) for turn in range(times + 1)]
    assert turns(start, count, MONTHS, times) == expected


@given(start=starts, count=st.integers(1, 60), times=st.integers(1, 24))
def test_weeks_are_those_of_another_program(start, count, times):
    rule = f"FREQ=WEEKLY;INTERVAL={count};COUNT={times + 1}"
    expected = rrulestr(rule, dtstart=datetime.combine(start, time(9)))
    assert turns(start, count, WEEKS, times) == [day.date() for day in expected]


@given(start=starts, count=st.integers(1, 12), times=st.integers(1, 6), weeks=st.integers(0, 60))
def test_before_the_expected_money_the_same_days_count_backward(start, count, times, weeks):
    expected_on = start + timedelta(weeks=weeks)
    of = fact(Trigger.NO_BUDGET, start.isoformat(), expected_on=expected_on)
    every = step(Trigger.NO_BUDGET, count, Unit.WEEKS_BEFORE_FUNDING, times=times)
    for turn in range(1, times + 1):
        before = expected_on + relativedelta(weeks=-count * turn)
        # What would lie before the fact is due at once, the first time, and else not at all.
        expected = before if before >= start else start if turn == 1 else None
        assert due_day(of, every, turn, EVERY_DAY) == expected
