"""Changes of the clock in 2026 and 2027, read twice, and the hour of a letter on those days.

Source: IANA tzdata 2026f. Our clock reads it by Python's zoneinfo from the package tzdata 2026.6;
the other reader is pytz 2026.6, with files and code of its own. The rules are facts of law, from
memory: European Union, last Sundays of March and October, 01:00 UTC; United States, second Sunday
of March and first of November, 02:00 local; Lord Howe, first Sundays of October and April, half an
hour; Chile, the Saturdays before the first Sundays after 1 April and 1 September, 24:00.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
import pytz
import tzdata
from dateutil.relativedelta import SU, relativedelta
from hypothesis import given
from hypothesis import strategies as st

from pipeline.clock.zones import at_local, local_day, zone_names

QUARTER, DAY = timedelta(minutes=15), timedelta(days=1)
FIRST, LAST = datetime(2026, 1, 1, tzinfo=UTC), datetime(2028, 1, 1, tzinfo=UTC)

# zone: the moments in UTC of each change, and by how many minutes clocks are put on.
CHANGES = {
    "Europe/Lisbon": [
        ("2026-03-29T01:00", 60),
        ("2026-10-25T01:00", -60),
        ("2027-03-28T01:00", 60),
        ("2027-10-31T01:00", -60),
    ],
    "America/New_York": [
        ("2026-03-08T07:00", 60),
        ("2026-11-01T06:00", -60),
        ("2027-03-14T07:00", 60),
        ("2027-11-07T06:00", -60),
    ],
    "America/St_Johns": [
        ("2026-03-08T05:30", 60),
        ("2026-11-01T04:30", -60),
        ("2027-03-14T05:30", 60),
        ("2027-11-07T04:30", -60),
    ],
    "Australia/Lord_Howe": [
        ("2026-04-04T15:00", -30),
        ("2026-10-03T15:30", 30),
        ("2027-04-03T15:00", -30),
        ("2027-10-02T15:30", 30),
    ],
    "Pacific/Chatham": [
        ("2026-04-04T14:00", -60),
        ("2026-09-26T14:00", 60),
        ("2027-04-03T14:00", -60),
        ("2027-09-25T14:00", 60),
    ],
    # at midnight: the day before has 25 hours, or the day itself begins at one
    "America/Santiago": [
        ("2026-04-05T03:00", -60),
        ("2026-09-06T04:00", 60),
        ("2027-04-04T03:00", -60),
        ("2027-09-05T04:00", 60),
    ],
    "Africa/Cairo": [
        ("2026-04-23T22:00", 60),
        ("2026-10-29T21:00", -60),
        ("2027-04-29T22:00", 60),
        ("2027-10-28T21:00", -60),
    ],
    # around Ramadan; for the last time, as this release knows: from September on it stays at UTC
    "Africa/Casablanca": [
        ("2026-02-15T02:00", -60),
        ("2026-03-22T02:00", 60),
        ("2026-09-20T01:00", -60),
    ],
    "Asia/Kolkata": [],
    "Pacific/Apia": [],
}


def offset(at: datetime, zone: str) -> timedelta:
    found = at.astimezone(ZoneInfo(zone)).utcoffset()
    assert found is not None
    return found


def changes(zone: str) -> Iterator[tuple[datetime, timedelta]]:
    """Return the changes of a zone in the two years: every quarter of an hour is looked at."""
    at, before = FIRST, offset(FIRST, zone)
    while at < LAST:
        if (now := offset(at, zone)) != before:
            yield at, now - before
        at, before = at + QUARTER, now


def test_both_readers_read_the_same_release():
    assert (tzdata.IANA_VERSION, pytz.OLSON_VERSION) == ("2026f", "2026f")


@pytest.mark.parametrize("zone", CHANGES)
def test_clocks_change_when_the_release_says(zone):
    minute = timedelta(minutes=1)
    found = [(f"{at:%Y-%m-%dT%H:%M}", by // minute) for at, by in changes(zone)]
    assert found == CHANGES[zone]


@pytest.mark.parametrize("zone", CHANGES)
def test_the_other_reader_shows_the_same_clock_every_quarter_of_an_hour(zone):
    other = pytz.timezone(zone)
    at = FIRST
    while at < LAST:
        assert at.astimezone(other).utcoffset() == offset(at, zone), at
        at += QUARTER


def test_the_other_reader_shows_the_same_clock_in_every_zone_each_week():
    for zone in set(zone_names()) & set(pytz.all_timezones):
        other, at = pytz.timezone(zone), FIRST
        while at < LAST:
            assert at.astimezone(other).utcoffset() == offset(at, zone), (zone, at)
            at += 7 * DAY


def sunday(year: int, month: int, nth: int) -> date:
    """Return the nth Sunday of a month; the last with -1."""
    day = date(year, month, 1) if nth > 0 else date(year, month + 1, 1) - DAY
    return day + relativedelta(weekday=SU(nth))


@pytest.mark.parametrize("year", range(2026, 2037))
def test_in_later_years_they_change_by_the_rules_of_law(year):
    def changed(zone: str, *days: date) -> None:
        found = []
        day = date(year, 1, 1)
        while day.year == year:
            noon = at_local(day, time(12), zone)
            if at_local(day - DAY, time(12), zone) != noon - DAY:
                found.append(day)
            day += DAY
        assert found == list(days), zone

    changed("Europe/Lisbon", sunday(year, 3, -1), sunday(year, 10, -1))
    changed("America/New_York", sunday(year, 3, 2), sunday(year, 11, 1))
    changed("Australia/Lord_Howe", sunday(year, 4, 1), sunday(year, 10, 1))
    # the first Sunday on or after the 2nd
    chile = [date(year, month, 2) + relativedelta(weekday=SU) for month in (4, 9)]
    changed("America/Santiago", *chile)
    changed("Asia/Kolkata")


@pytest.mark.parametrize("zone", CHANGES)
def test_a_letter_at_eight_comes_once_on_each_day_also_on_those_of_a_change(zone):
    """On each day of two years, and 24 hours after the last but where clocks were changed."""
    other, day, times = pytz.timezone(zone), date(2026, 1, 1), []
    while day < date(2028, 1, 1):
        at = at_local(day, time(8), zone)
        shown = at.astimezone(ZoneInfo(zone))
        assert (shown.date(), shown.time()) == (day, time(8))
        assert at.astimezone(other).replace(tzinfo=None) == shown.replace(tzinfo=None)
        times.append(at)
        day += DAY
    gaps = [after - before for before, after in pairwise(times)]
    uneven = [gap - DAY for gap in gaps if gap != DAY]
    assert uneven == [-timedelta(minutes=by) for _, by in CHANGES[zone]]


@pytest.mark.parametrize(
    ("zone", "day", "hour", "expected"),
    [
        # Source: PEP 495 and RFC 5545, section 3.3.5: of an hour that comes twice the first, and
        # one that is skipped by the offset before the gap. The moments by hand from the table.
        ("Europe/Lisbon", "2026-03-29", "01:00", "2026-03-29T01:00"),  # skipped: shows 02:00
        ("Europe/Lisbon", "2026-03-29", "01:30", "2026-03-29T01:30"),  # skipped: shows 02:30
        ("Europe/Lisbon", "2026-10-25", "01:00", "2026-10-25T00:00"),  # twice: the first
        ("Europe/Lisbon", "2026-10-25", "02:00", "2026-10-25T02:00"),
        ("America/New_York", "2026-03-08", "02:00", "2026-03-08T07:00"),  # skipped
        ("America/New_York", "2026-11-01", "01:00", "2026-11-01T05:00"),  # twice
        ("Australia/Lord_Howe", "2026-10-04", "02:00", "2026-10-03T15:30"),  # skipped: 02:30
        ("Australia/Lord_Howe", "2026-04-05", "01:30", "2026-04-04T14:30"),  # twice
        ("Australia/Lord_Howe", "2026-04-05", "01:00", "2026-04-04T14:00"),
        ("America/Santiago", "2026-09-06", "00:00", "2026-09-06T04:00"),  # the day begins at 1
        ("America/Santiago", "2026-04-04", "23:00", "2026-04-05T02:00"),  # twice
        ("America/Santiago", "2026-04-05", "00:00", "2026-04-05T04:00"),
        ("Africa/Cairo", "2026-04-24", "00:00", "2026-04-23T22:00"),  # the day begins at 1
        ("Africa/Cairo", "2026-10-29", "23:00", "2026-10-29T20:00"),  # twice
        ("Africa/Casablanca", "2026-02-15", "02:00", "2026-02-15T01:00"),  # twice
        ("Asia/Kolkata", "2026-03-29", "01:30", "2026-03-28T20:00"),
        # Samoa had no 30 December 2011 at all; IANA, and the day's own news.
        ("Pacific/Apia", "2011-12-29", "08:00", "2011-12-29T18:00"),
        ("Pacific/Apia", "2011-12-30", "08:00", "2011-12-30T18:00"),
        ("Pacific/Apia", "2011-12-31", "08:00", "2011-12-30T18:00"),
    ],
)
def test_an_hour_in_a_gap_is_moved_on_and_of_one_that_comes_twice_the_first_is_meant(
    zone, day, hour, expected
):
    found = at_local(date.fromisoformat(day), time.fromisoformat(hour), zone)
    assert f"{found:%Y-%m-%dT%H:%M}" == expected


@given(
    zone=st.sampled_from([*CHANGES, *zone_names()]),
    day=st.dates(date(2026, 1, 1), date(2027, 12, 31)),
    hour=st.integers(0, 23),
)
def test_whatever_the_hour_of_the_digest_each_day_has_one_and_a_later_day_a_later_one(
    zone, day, hour
):
    at, after = at_local(day, time(hour), zone), at_local(day + DAY, time(hour), zone)
    assert timedelta(hours=22) <= after - at <= timedelta(hours=26)
    assert (local_day(at, zone), local_day(after, zone)) == (day, day + DAY)
