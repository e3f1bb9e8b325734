"""Free times: inside everybody's hours of work, outside what is taken, on every clock."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.clock.workdays import WorkCalendar
from pipeline.clock.zones import local_day
from sessions.calendars.free import Hours, Span, free_times

NINE, FIVE = time(9), time(17)
WEEKDAYS = WorkCalendar()
LISBON = Hours("Europe/Lisbon", NINE, FIVE, WEEKDAYS)
NEW_YORK = Hours("America/New_York", NINE, FIVE, WEEKDAYS)
AUCKLAND = Hours("Pacific/Auckland", NINE, FIVE, WEEKDAYS)
WEDNESDAY = date(2026, 3, 4)
BEFORE = datetime(2026, 3, 1, tzinfo=UTC)


def at(hour: int, minute: int = 0, day: int = 4) -> datetime:
    return datetime(2026, 3, day, hour, minute, tzinfo=UTC)


def free(*hours: Hours, **changes) -> list[datetime]:
    words = {
        "taken": [],
        "first": WEDNESDAY,
        "last": WEDNESDAY,
        "minutes": 60,
        "now": BEFORE,
    }
    return free_times(hours=hours, **(words | changes))


def test_a_whole_free_day_offers_every_half_hour_that_fits():
    found = free(LISBON)
    assert (found[0], found[-1], len(found)) == (at(9), at(16), 15)


def test_two_zones_leave_the_hours_they_share():
    # nine in New York is two in Lisbon, in winter
    assert free(LISBON, NEW_YORK) == [at(14), at(14, 30), at(15), at(15, 30), at(16)]


def test_zones_that_share_no_hour_leave_nothing():
    assert free(LISBON, AUCKLAND) == []


def test_between_the_two_changes_of_the_clocks_the_zones_lie_an_hour_nearer():
    """New York changes on 8 March 2026, Lisbon on the 29th."""
    day = date(2026, 3, 11)
    assert free(LISBON, NEW_YORK, first=day, last=day)[0] == at(13, day=11)


def test_what_is_taken_is_not_offered_and_its_end_may_be_a_start():
    found = free(LISBON, taken=[Span(at(10), at(11)), Span(at(13, 15), at(13, 45))])
    assert at(9) in found
    assert not {at(9, 30), at(10), at(10, 30), at(12, 30), at(13), at(13, 30)} & set(found)
    assert {at(11), at(12), at(14)} <= set(found)


def test_what_has_begun_is_not_offered():
    assert free(LISBON, now=at(14))[0] == at(14, 30)


def test_days_off_are_left_out():
    holiday = Hours(
        "Europe/Lisbon", NINE, FIVE, WorkCalendar(days_off=frozenset({date(2026, 3, 5)}))
    )
    found = free(holiday, first=WEDNESDAY, last=date(2026, 3, 8))
    assert {start.date() for start in found} == {WEDNESDAY, date(2026, 3, 6)}


def test_the_other_zones_day_must_be_a_working_day_too():
    """Friday morning in Auckland is Thursday evening in Lisbon; Saturday there is no day."""
    late = Hours("Europe/Lisbon", time(20), time(23, 30), WEEKDAYS)
    thursday, friday = date(2026, 3, 5), date(2026, 3, 6)
    assert free(late, AUCKLAND, first=thursday, last=thursday) == [
        at(20, day=5),
        at(20, 30, day=5),
        at(21, day=5),
        at(21, 30, day=5),
        at(22, day=5),
        at(22, 30, day=5),
    ]
    assert free(late, AUCKLAND, first=friday, last=friday) == []


def test_on_the_day_the_clocks_go_forward_no_moment_is_offered_twice():
    early = Hours("Europe/Lisbon", time(0), time(6), WorkCalendar(weekdays=frozenset(range(7))))
    sunday = date(2026, 3, 29)
    found = free(early, first=sunday, last=sunday, minutes=30)
    assert len(found) == len(set(found)) == 10
    assert found[-1] == datetime(2026, 3, 29, 4, 30, tzinfo=UTC)


def test_without_anybodys_hours_nothing_can_be_told():
    with pytest.raises(ValueError, match="hours"):
        free()


zones = st.sampled_from(
    ["Europe/Lisbon", "America/New_York", "Asia/Kathmandu", "Australia/Lord_Howe", "Asia/Tokyo"]
)
days = st.dates(date(2026, 1, 1), date(2026, 12, 20))
quarters = st.integers(0, 14 * 96)


@given(
    mine=zones,
    theirs=zones,
    first=days,
    minutes=st.integers(15, 240),
    taken=st.lists(st.tuples(quarters, st.integers(1, 16)), max_size=12),
)
def test_every_time_that_is_offered_suits_and_every_other_does_not(
    mine, theirs, first, minutes, taken
):
    """Against a search minute by minute that knows nothing of spans and grids."""
    last = first + timedelta(days=3)
    midnight = datetime(first.year, first.month, first.day, tzinfo=UTC) - timedelta(days=1)
    busy = [
        Span(
            midnight + timedelta(minutes=15 * start),
            midnight + timedelta(minutes=15 * (start + length)),
        )
        for start, length in taken
    ]
    clocks = [Hours(mine, NINE, FIVE, WEEKDAYS), Hours(theirs, time(8), time(20), WEEKDAYS)]
    found = free(*clocks, first=first, last=last, minutes=minutes, now=midnight, taken=busy)
    assert found == sorted(set(found))
    for start in _half_hours(midnight, clocks[0]):
        assert (start in found) == _suits(start, minutes, clocks, busy, first, last)


def _half_hours(midnight, clock):
    """Return each moment of six days at which the clock shows a half hour."""
    for minute in range(0, 6 * 24 * 60, 15):
        moment = midnight + timedelta(minutes=minute)
        if moment.astimezone(ZoneInfo(clock.zone)).minute % 30 == 0:
            yield moment


def _suits(start, minutes, clocks, busy, first, last):
    if not first <= local_day(start, clocks[0].zone) <= last:
        return False
    end = start + timedelta(minutes=minutes)
    for clock in clocks:
        zone = ZoneInfo(clock.zone)
        here, there = start.astimezone(zone), end.astimezone(zone)
        if here.date() != there.date() or here.weekday() > 4:
            return False
        if here.time() < clock.starts or there.time() > clock.ends:
            return False
    return not any(start < span.ends and span.starts < end for span in busy)
