"""Months on from a day."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.clock.months import add_months, month_end


@pytest.mark.parametrize(
    ("day", "count", "expected"),
    [
        (date(2026, 1, 31), 1, date(2026, 2, 28)),
        (date(2028, 1, 31), 1, date(2028, 2, 29)),
        (date(2026, 11, 30), 3, date(2027, 2, 28)),
        (date(2026, 3, 31), -1, date(2026, 2, 28)),
        (date(2026, 5, 15), 0, date(2026, 5, 15)),
        (date(9999, 12, 1), 1, date.max),
        (date(1, 1, 31), -1, date.min),
    ],
)
def test_the_same_day_or_the_months_last(day, count, expected):
    assert add_months(day, count) == expected


@given(day=st.dates(date(1000, 1, 1), date(3000, 1, 1)), count=st.integers(-2400, 2400))
def test_so_many_months_lie_between_and_the_day_never_passes_its_own(day, count):
    found = add_months(day, count)
    assert (found.year - day.year) * 12 + found.month - day.month == count
    assert found.day <= day.day


@given(st.dates())
def test_the_day_after_a_months_end_is_the_next_months_first(day):
    last = month_end(day)
    assert (last.year, last.month) == (day.year, day.month)
    assert last == date.max or date.fromordinal(last.toordinal() + 1).day == 1
