"""Public holidays by country and part of it, against the lists that each publishes for 2026.

Only Monday to Friday is listed: what falls on a weekend changes no working day of such a team.
The lists are from memory of what is named beside each; the days of Easter are computed once more
by python-dateutil, the working days between by numpy.
"""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from dateutil.easter import easter
from hypothesis import given
from hypothesis import strategies as st

from pipeline.clock.workdays import WorkCalendar

PUBLISHED = {
    # gov.uk, "UK bank holidays": three lists
    ("GB", "ENG"): "01-01 04-03 04-06 05-04 05-25 08-31 12-25 12-28",
    # 15 June 2026 once only, by proclamation
    ("GB", "SCT"): "01-01 01-02 04-03 05-04 05-25 06-15 08-03 11-30 12-25 12-28",
    ("GB", "NIR"): "01-01 03-17 04-03 04-06 05-04 05-25 07-13 08-31 12-25 12-28",
    # opm.gov, "Federal Holidays": 4 July is a Saturday, kept on the Friday before
    ("US", ""): "01-01 01-19 02-16 05-25 06-19 07-03 09-07 10-12 11-11 11-26 12-25",
    # Código do Trabalho, article 234
    ("PT", ""): "01-01 04-03 05-01 06-04 06-10 10-05 12-01 12-08 12-25",
    # the holidays laws of the Länder; Bavaria has Epiphany and Corpus Christi besides, Saxony the
    # Day of Prayer; All Saints', Reformation, Women's and Unity Day are on weekends
    ("DE", ""): "01-01 04-03 04-06 05-01 05-14 05-25 12-25",
    ("DE", "BY"): "01-01 01-06 04-03 04-06 05-01 05-14 05-25 06-04 12-25",
    ("DE", "SN"): "01-01 04-03 04-06 05-01 05-14 05-25 11-18 12-25",
    # Cabinet Office of Japan: 6 May stands in for the 3rd, and 22 September lies between two
    ("JP", ""): (
        "01-01 01-12 02-11 02-23 03-20 04-29 05-04 05-05 05-06 07-20 08-11 "
        "09-21 09-22 09-23 10-12 11-03 11-23"
    ),
}
YEAR = [date(2026, 1, 1) + timedelta(days=n) for n in range(365)]


def published(place: tuple[str, str]) -> list[date]:
    return [date.fromisoformat(f"2026-{day}") for day in PUBLISHED[place].split()]


@pytest.mark.parametrize("place", PUBLISHED)
def test_a_team_works_on_all_weekdays_of_2026_but_those_that_are_published(place):
    calendar = WorkCalendar(*place)
    weekdays = [day for day in YEAR if day.weekday() < 5]
    assert [day for day in weekdays if not calendar.is_working(day)] == published(place)


@given(
    place=st.sampled_from(sorted(PUBLISHED)),
    start=st.dates(date(2026, 1, 1), date(2026, 10, 1)),
    count=st.integers(0, 50),
)
def test_so_many_working_days_on_is_what_numpy_finds_by_the_published_list(place, start, count):
    found = WorkCalendar(*place).add(start, count)
    # numpy counts on from the next working day where we start on none; we count from the start.
    from_here = "forward" if count == 0 else "backward"
    expected = np.busday_offset(start, count, roll=from_here, holidays=published(place))
    assert found == expected.astype(date)


@given(
    place=st.sampled_from(sorted(PUBLISHED)),
    days=st.lists(st.sampled_from(YEAR), min_size=2, max_size=2),
)
def test_so_many_working_days_between_is_what_numpy_counts(place, days):
    start, end = sorted(days)
    expected = np.busday_count(start, end, holidays=published(place))
    assert WorkCalendar(*place).count(start, end) == expected


@pytest.mark.parametrize("year", range(2026, 2046))
def test_the_days_that_go_with_easter_move_with_it(year):
    """Gregorian Easter, by another program; how many days after it each is, common knowledge."""
    sunday = easter(year)
    bavaria = WorkCalendar("DE", "BY")
    for days in (-2, 1, 39, 50, 60):
        assert not bavaria.is_working(sunday + timedelta(days=days))
    assert bavaria.is_working(sunday - timedelta(days=4))
    # Good Friday is none in the United States
    assert WorkCalendar("US").is_working(sunday - timedelta(days=2))


def test_a_teams_own_days_off_come_on_top_of_the_public_ones():
    closed = frozenset({date(2026, 12, 24), date(2026, 12, 29)})
    calendar = WorkCalendar("GB", "ENG", days_off=closed)
    assert calendar.add(date(2026, 12, 23), 1) == date(2026, 12, 30)
    expected = np.busday_offset(
        date(2026, 12, 23), 1, holidays=[*published(("GB", "ENG")), *closed]
    )
    assert expected.astype(date) == date(2026, 12, 30)
