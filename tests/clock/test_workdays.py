"""Working days: a team's weekdays less the public holidays of its country."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.clock.workdays import WorkCalendar, country_codes, country_names

CHRISTMAS_AND_NEW_YEAR = WorkCalendar(days_off=frozenset({date(2026, 12, 25), date(2027, 1, 1)}))


@pytest.mark.parametrize(
    ("day", "count", "expected"),
    [
        # Source: computed; a loop of its own, numpy.busday_offset and pandas' CustomBusinessDay
        # agree.
        (date(2026, 12, 23), 1, date(2026, 12, 24)),
        (date(2026, 12, 23), 2, date(2026, 12, 28)),
        (date(2026, 12, 26), 1, date(2026, 12, 28)),
        (date(2026, 12, 31), 1, date(2027, 1, 4)),
        (date(2026, 2, 27), 1, date(2026, 3, 2)),
    ],
)
def test_so_many_working_days_on(day, count, expected):
    assert CHRISTMAS_AND_NEW_YEAR.add(day, count) == expected


@pytest.mark.parametrize(
    ("start", "end", "expected"),
    [
        # Source: computed; numpy.busday_count agrees.
        (date(2026, 12, 21), date(2027, 1, 4), 8),
        (date(2026, 2, 2), date(2026, 3, 2), 20),
        (date(2026, 12, 26), date(2026, 12, 28), 0),
    ],
)
def test_so_many_working_days_between(start, end, expected):
    assert CHRISTMAS_AND_NEW_YEAR.count(start, end) == expected


@pytest.mark.parametrize(
    ("country", "subdivision", "day", "works"),
    [
        # Facts of law, as known to the holidays library; from memory too.
        ("PT", "", date(2026, 4, 3), False),  # Good Friday
        ("PT", "", date(2026, 6, 10), False),  # Portugal Day
        ("ES", "", date(2026, 6, 10), True),
        ("DE", "", date(2026, 1, 6), True),
        ("DE", "BY", date(2026, 1, 6), False),  # Epiphany, in Bavaria and not in Berlin
        ("DE", "BE", date(2026, 1, 6), True),
        ("US", "", date(2026, 7, 3), False),  # Independence Day falls on a Saturday
        ("", "", date(2026, 12, 25), True),
    ],
)
def test_public_holidays_are_those_of_the_country_and_its_part(country, subdivision, day, works):
    assert WorkCalendar(country, subdivision).is_working(day) is works


def test_a_team_may_work_on_other_weekdays():
    fridays_off = WorkCalendar(weekdays=frozenset({6, 0, 1, 2, 3}))
    assert fridays_off.add(date(2026, 3, 5), 1) == date(2026, 3, 8)


@pytest.mark.parametrize(
    "wrong",
    [
        {"weekdays": frozenset()},
        {"weekdays": frozenset({7})},
        {"country": "XX"},
        {"country": "PT", "subdivision": "BY"},
        {"subdivision": "BY"},
    ],
)
def test_a_calendar_that_cannot_be_is_refused(wrong):
    with pytest.raises(ValueError, match=r"weekdays|country|subdivision"):
        WorkCalendar(**wrong)


def test_a_negative_count_is_refused():
    with pytest.raises(ValueError, match="negative"):
        WorkCalendar().add(date(2026, 3, 3), -1)


def test_each_country_has_one_name():
    assert {code for code, _ in country_names()} == set(country_codes())
    assert dict(country_names())["PT"] == "Portugal"
    assert dict(country_names())["GB"] == "United Kingdom"


calendars = st.builds(
    WorkCalendar,
    country=st.sampled_from(["", "PT", "DE", "US", "JP", "IL"]),
    weekdays=st.frozensets(st.integers(0, 6), min_size=1),
    days_off=st.frozensets(st.dates(date(2025, 12, 1), date(2026, 2, 28)), max_size=20),
)
days = st.dates(date(2020, 1, 1), date(2030, 12, 31))


@given(calendar=calendars, day=days, count=st.integers(1, 40))
def test_the_day_found_is_a_working_day_and_so_many_lie_before_it(calendar, day, count):
    found = calendar.add(day, count)
    assert calendar.is_working(found)
    # after ``day`` and before ``found``, plus ``found`` itself
    assert calendar.count(day + timedelta(days=1), found) == count - 1


@given(calendar=calendars, day=days, first=st.integers(1, 15), second=st.integers(1, 15))
def test_going_on_twice_is_going_on_once_by_the_sum(calendar, day, first, second):
    assert calendar.add(calendar.add(day, first), second) == calendar.add(day, first + second)


@given(calendar=calendars, day=days)
def test_the_next_working_day_is_the_first_one(calendar, day):
    found = calendar.on_or_after(day)
    assert found >= day
    assert calendar.is_working(found)
    assert calendar.count(day, found) == 0
    assert calendar.add(day, 0) == found


@given(calendar=calendars, start=days, middle=days, end=days)
def test_counts_of_neighbouring_spans_add_up(calendar, start, middle, end):
    start, middle, end = sorted([start, middle, end])
    parts = calendar.count(start, middle) + calendar.count(middle, end)
    assert parts == calendar.count(start, end)
    assert calendar.count(end, start) == 0 or start == end


@pytest.mark.parametrize("country", ["", *sorted(country_codes())])
def test_no_country_fails_at_the_ends_of_the_calendar(country):
    calendar = WorkCalendar(country)
    assert calendar.add(date.max - timedelta(days=3), 30) == date.max
    assert calendar.on_or_after(date.max) == date.max
    assert calendar.add(date.min, 1) > date.min
