"""Local days and hours of a zone, through its changes of the clock."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.clock.zones import at_local, local_day, week_of, zone_names

# (zone, year): the moments in UTC at which its clocks change, what they show a minute before and
# what they show then. Source: IANA tzdata 2026f (tzdata 2026.6), found by a scan of every minute.
# Debian 12's own tables of 2025 answer differently for Edmonton from 2026 on.
CHANGES = {
    ("Europe/Berlin", 2026): [
        ("2026-03-29T01:00", "2026-03-29 01:59 +0100", "2026-03-29 03:00 +0200"),
        ("2026-10-25T01:00", "2026-10-25 02:59 +0200", "2026-10-25 02:00 +0100"),
    ],
    ("Europe/Berlin", 2027): [
        ("2027-03-28T01:00", "2027-03-28 01:59 +0100", "2027-03-28 03:00 +0200"),
        ("2027-10-31T01:00", "2027-10-31 02:59 +0200", "2027-10-31 02:00 +0100"),
    ],
    ("Europe/London", 2026): [
        ("2026-03-29T01:00", "2026-03-29 00:59 +0000", "2026-03-29 02:00 +0100"),
        ("2026-10-25T01:00", "2026-10-25 01:59 +0100", "2026-10-25 01:00 +0000"),
    ],
    ("America/New_York", 2026): [
        ("2026-03-08T07:00", "2026-03-08 01:59 -0500", "2026-03-08 03:00 -0400"),
        ("2026-11-01T06:00", "2026-11-01 01:59 -0400", "2026-11-01 01:00 -0500"),
    ],
    ("America/New_York", 2027): [
        ("2027-03-14T07:00", "2027-03-14 01:59 -0500", "2027-03-14 03:00 -0400"),
        ("2027-11-07T06:00", "2027-11-07 01:59 -0400", "2027-11-07 01:00 -0500"),
    ],
    ("Australia/Sydney", 2026): [
        ("2026-04-04T16:00", "2026-04-05 02:59 +1100", "2026-04-05 02:00 +1000"),
        ("2026-10-03T16:00", "2026-10-04 01:59 +1000", "2026-10-04 03:00 +1100"),
    ],
    ("America/Edmonton", 2026): [
        ("2026-03-08T09:00", "2026-03-08 01:59 -0700", "2026-03-08 03:00 -0600"),
    ],
    ("America/Edmonton", 2027): [],
    ("America/Sao_Paulo", 2026): [],
    ("America/Sao_Paulo", 2027): [],
    ("Asia/Kolkata", 2026): [],
    ("Asia/Kolkata", 2027): [],
}


@pytest.mark.parametrize(("zone", "year"), CHANGES)
def test_clocks_change_when_the_pinned_tables_say(zone, year):
    tz = ZoneInfo(zone)
    hour = timedelta(hours=1)
    at, found = datetime(year, 1, 1, tzinfo=UTC), []
    while at.year == year:
        before = (at - timedelta(minutes=1)).astimezone(tz)
        if before.utcoffset() != at.astimezone(tz).utcoffset():
            shown = [f"{t:%Y-%m-%d %H:%M %z}" for t in (before, at.astimezone(tz))]
            found.append((f"{at:%Y-%m-%dT%H:%M}", *shown))
        at += hour
    assert found == CHANGES[zone, year]


@pytest.mark.parametrize(
    ("day", "fold", "expected"),
    [
        # Source: PEP 495, and Python's zoneinfo. The hour that is skipped, and the one that is
        # there twice.
        (date(2026, 3, 29), 0, datetime(2026, 3, 29, 1, 30, tzinfo=UTC)),
        (date(2026, 3, 29), 1, datetime(2026, 3, 29, 0, 30, tzinfo=UTC)),
        (date(2026, 10, 25), 0, datetime(2026, 10, 25, 0, 30, tzinfo=UTC)),
        (date(2026, 10, 25), 1, datetime(2026, 10, 25, 1, 30, tzinfo=UTC)),
    ],
)
def test_an_hour_that_is_skipped_or_comes_twice(day, fold, expected):
    assert at_local(day, time(2, 30, fold=fold), "Europe/Berlin") == expected


@pytest.mark.parametrize(
    ("moment", "zone", "day"),
    [
        (datetime(2026, 3, 3, 23, 30, tzinfo=UTC), "Europe/Lisbon", date(2026, 3, 3)),
        (datetime(2026, 3, 3, 23, 30, tzinfo=UTC), "Europe/Berlin", date(2026, 3, 4)),
        (datetime(2026, 3, 3, 4, 59, tzinfo=UTC), "America/New_York", date(2026, 3, 2)),
        # fourteen hours ahead, and eleven behind
        (datetime(2026, 3, 3, 10, 0, tzinfo=UTC), "Pacific/Kiritimati", date(2026, 3, 4)),
        (datetime(2026, 3, 3, 10, 0, tzinfo=UTC), "Pacific/Pago_Pago", date(2026, 3, 2)),
    ],
)
def test_the_day_is_the_one_that_people_in_the_zone_have(moment, zone, day):
    assert local_day(moment, zone) == day


@given(
    day=st.dates(date(2000, 1, 1), date(2099, 12, 31)),
    hour=st.times(),
    zone=st.sampled_from(zone_names()),
)
def test_an_hour_of_a_day_lies_on_that_day_or_is_moved_on_by_a_gap(day, hour, zone):
    at = at_local(day, hour, zone)
    found = at.astimezone(ZoneInfo(zone))
    if found.replace(tzinfo=None, fold=0) == datetime.combine(day, hour):
        assert local_day(at, zone) == day
    else:
        # Nobody's clock showed that hour: it is moved on, never back.
        assert found.replace(tzinfo=None) > datetime.combine(day, hour)


@pytest.mark.parametrize("zone", ["Asia/Tokyo", "America/New_York", "UTC"])
@pytest.mark.parametrize("day", [date.min, date.max])
@pytest.mark.parametrize("hour", [time.min, time.max])
def test_the_ends_of_the_calendar_do_not_overflow(zone, day, hour):
    at = at_local(day, hour, zone)
    assert abs(at.date() - day) <= timedelta(days=1)
    assert abs(local_day(at, zone) - day) <= timedelta(days=1)
    edge = datetime.combine(day, hour, UTC)
    assert abs(local_day(edge, zone) - day) <= timedelta(days=1)


@given(day=st.dates())
def test_a_week_runs_from_monday_to_sunday_and_holds_its_day(day):
    monday, sunday = week_of(day)
    assert monday <= day <= sunday
    assert monday.weekday() == 0
    assert sunday.weekday() == 6 or sunday == date.max


def test_zones_are_those_of_the_pinned_tables():
    import importlib.resources
    import zoneinfo

    assert zoneinfo.TZPATH == ()
    assert "Europe/Lisbon" in zone_names()
    listed = importlib.resources.files("tzdata").joinpath("zones").read_text().split()
    assert set(listed) <= set(zone_names())
