"""Booking warns when the week is full or a member is taken; it never forbids."""

from datetime import UTC, datetime, timedelta

import pytest

from sessions.booking import cancel
from sessions.clashes import warnings_for_booking, week_at
from sessions.holding import hold
from tests.conftest import NOW, TODAY
from tests.factories import AbsenceFactory, LeadFactory, SessionFactory

EIGHT = datetime(2026, 3, 3, 8, 0, tzinfo=UTC)


@pytest.fixture
def warned(cast):
    """Return a function that asks for warnings about an hour for another lead."""
    lead = LeadFactory(team=cast.team, organisation="Tidewater Trust")

    def ask(starts_at, minutes=60, crew=(), **more):
        words = {"team": cast.team, "lead": lead} | more
        return warnings_for_booking(starts_at=starts_at, minutes=minutes, crew=crew, **words)

    return ask


def test_a_free_week_and_a_free_crew_warn_of_nothing(warned, cast):
    assert warned(EIGHT, crew=[cast.owner]) == []


def test_the_limit_itself_is_no_reason_to_warn_and_a_minute_more_is(warned, cast, booked):
    # 60 of the team's 240 minutes are booked.
    day = EIGHT + timedelta(days=1)
    assert warned(day, minutes=180) == []
    (warning,) = warned(day, minutes=181)
    assert "4 h 1 min" in warning
    assert "limit is 4 h" in warning
    assert "2 March to 8 March" in warning


def test_a_week_begins_on_monday_in_the_teams_zone(warned, cast, booked):
    cast.team.weekly_free_minutes = 60
    sunday = datetime(2026, 3, 8, 23, 30, tzinfo=UTC)
    assert warned(sunday)
    assert warned(sunday + timedelta(hours=1)) == []


def test_cancelled_and_missed_sessions_take_no_free_minutes(warned, cast, booked):
    cast.team.weekly_free_minutes = 60
    assert warned(EIGHT + timedelta(days=1))
    cancel(session=booked, member=cast.owner, now=NOW)
    assert warned(EIGHT + timedelta(days=1)) == []


def test_held_sessions_take_free_minutes(cast, booked):
    hold(session=booked, member=cast.owner, now=NOW)
    week = week_at(cast.team, TODAY)
    assert (week.given, week.left, week.over) == (60, 180, 0)


def test_a_session_in_another_team_takes_none_of_ours(cast, booked):
    SessionFactory(lead=LeadFactory(team=cast.other_team), minutes=500)
    assert week_at(cast.team, TODAY).given == 60


@pytest.mark.parametrize(
    ("starts", "minutes", "taken"),
    [
        (-60, 60, False),  # ends as the other starts
        (-60, 61, True),
        (0, 60, True),
        (10, 20, True),
        (-30, 240, True),
        (59, 10, True),
        (60, 10, False),  # starts as the other ends
    ],
)
def test_a_member_is_taken_when_the_sessions_overlap(warned, cast, booked, starts, minutes, taken):
    cast.team.weekly_free_minutes = 10_000
    found = warned(EIGHT + timedelta(minutes=starts), minutes, crew=[cast.owner])
    assert bool(found) is taken
    if taken:
        assert "Olive Brandt is already taken: Fernwick Library" in found[0]
        assert "08:00 to 09:00" in found[0]


def test_somebody_else_is_free_at_that_hour(warned, cast, booked):
    booked.crew.filter(member=cast.member).delete()
    assert warned(EIGHT, crew=[cast.member]) == []


def test_a_cancelled_session_takes_nobody(warned, cast, booked):
    cancel(session=booked, member=cast.owner, now=NOW)
    assert warned(EIGHT, crew=[cast.owner]) == []


def test_a_session_that_is_moved_does_not_clash_with_itself(warned, cast, booked):
    cast.team.weekly_free_minutes = 60
    found = warned(EIGHT, crew=[cast.owner], lead=booked.lead, leaving_out=booked)
    assert found == []


def test_a_second_session_ahead_with_the_same_lead_is_told(warned, booked):
    (warning,) = warned(EIGHT, lead=booked.lead)
    assert "already has a session booked" in warning


def test_a_crew_member_who_is_away_that_day_is_named_with_who_stands_in(warned, cast):
    AbsenceFactory(member=cast.owner, stand_in=cast.member, last_day=TODAY + timedelta(days=2))
    crew = [cast.owner, cast.member]
    assert warned(EIGHT, crew=crew) == [
        "Olive Brandt is away until Thu 5 Mar 2026; Mateus Coelho stands in."
    ]
    assert warned(EIGHT + timedelta(days=3), crew=crew) == []
    assert warned(EIGHT, crew=[cast.member]) == []
    AbsenceFactory(member=cast.member)
    assert [words.partition("; ")[2] for words in warned(EIGHT, crew=crew)] == [
        "nobody stands in."
    ] * 2


def test_the_day_of_an_absence_is_the_teams(warned, cast):
    cast.team.timezone = "Pacific/Auckland"
    AbsenceFactory(member=cast.owner, first_day=TODAY + timedelta(days=1))
    # Noon in UTC is the next day there.
    assert len(warned(EIGHT + timedelta(hours=4), crew=[cast.owner])) == 1
    assert warned(EIGHT, crew=[cast.owner]) == []
