"""Hours are typed on the team's clock, also on the days on which clocks change."""

from datetime import UTC, date, datetime

import pytest
from django.core.exceptions import ValidationError
from django.utils import timezone

from sessions.hours import LocalMoment
from sessions.models import DiscoverySession

from .pages import at, booking, editing

LISBON, NEW_YORK = "Europe/Lisbon", "America/New_York"


@pytest.mark.parametrize(
    ("zone", "typed", "moment"),
    [
        (LISBON, "2026-03-03T14:30", datetime(2026, 3, 3, 14, 30, tzinfo=UTC)),
        (LISBON, "2026-07-01 14:30", datetime(2026, 7, 1, 13, 30, tzinfo=UTC)),
        (NEW_YORK, "2026-03-03T22:30", datetime(2026, 3, 4, 3, 30, tzinfo=UTC)),
        # comes twice on 25 October 2026: the first is meant, still summer time
        (LISBON, "2026-10-25T01:30", datetime(2026, 10, 25, 0, 30, tzinfo=UTC)),
    ],
)
def test_an_hour_is_read_on_the_teams_clock(zone, typed, moment):
    with timezone.override(zone):
        assert LocalMoment().clean(typed) == moment


@pytest.mark.parametrize(
    ("zone", "typed", "follows"),
    [
        # Summer time began on 8 March 2026 at 02:00 in New York, on 29 March at 01:00 in Lisbon
        # (IANA time zone database).
        (NEW_YORK, "2026-03-08T02:30", "03:30"),
        (LISBON, "2026-03-29T01:30", "02:30"),
    ],
)
def test_an_hour_that_the_clocks_skip_is_refused_with_the_one_that_follows(zone, typed, follows):
    with timezone.override(zone), pytest.raises(ValidationError, match=follows):
        LocalMoment().clean(typed)


@pytest.mark.parametrize(
    "typed", ["soon", "2026-02-30T10:00", "2026-03-03", "0001-01-01T00:00", "9999-12-31T23:59"]
)
def test_what_is_no_hour_is_refused_in_words(typed):
    with timezone.override(NEW_YORK), pytest.raises(ValidationError):
        LocalMoment().clean(typed)


def test_02_30_on_the_day_the_clocks_go_forward_can_be_booked_where_it_exists(
    cast, sign_in, lead, hour
):
    page = at(cast.team, "session-book", lead.pk)
    browser = sign_in(cast.member)
    assert browser.post(page, booking(cast, hour, starts_at="2026-03-29T02:30")).status_code == 302
    session = DiscoverySession.objects.get()
    assert session.starts_at == datetime(2026, 3, 29, 1, 30, tzinfo=UTC)
    assert session.day == date(2026, 3, 29)
    assert "29 Mar 2026, 02:30" in browser.get(session.get_absolute_url()).content.decode()


def test_a_skipped_hour_is_told_on_the_page_and_kept_as_typed(cast, sign_in, lead, hour):
    page = at(cast.team, "session-book", lead.pk)
    answer = sign_in(cast.member).post(page, booking(cast, hour, starts_at="2026-03-29T01:30"))
    assert answer.status_code == 422
    assert "02:30 is the hour that follows" in answer.content.decode()
    assert 'value="2026-03-29T01:30"' in answer.content.decode()


def test_saving_a_session_in_the_hour_that_comes_twice_does_not_move_it(cast, sign_in, booked):
    second = datetime(2026, 10, 25, 1, 30, tzinfo=UTC)
    DiscoverySession.objects.update(starts_at=second, day=second.date())
    booked.refresh_from_db()
    post = editing(booked, place="the old mill", starts_at="2026-10-25T01:30")
    answer = sign_in(cast.member).post(at(cast.team, "session-edit", booked.pk), post)
    assert answer.status_code == 302
    booked.refresh_from_db()
    assert (booked.starts_at, booked.place) == (second, "the old mill")
