"""Booking, moving, cancelling and missing a session."""

from datetime import UTC, date, datetime, timedelta

import pytest

from pipeline.teams.models import Stale
from pipeline.teams.refused import Refused
from sessions.booking import amend, book, cancel, mark_missed, put_back, reschedule
from sessions.models import CrewPlace, DiscoverySession, Part, State
from tests.conftest import NOW, TODAY
from tests.factories import ContactFactory, FormatFactory, LeadFactory

TOMORROW = datetime(2026, 3, 4, 10, 0, tzinfo=UTC)


@pytest.fixture
def ask(cast, lead, hour):
    """Return a function that books for tomorrow, with some words changed."""

    def booked(**changes):
        words = {
            "lead": lead,
            "member": cast.owner,
            "now": NOW,
            "format": hour,
            "starts_at": TOMORROW,
            "minutes": 60,
            "crew": {Part.FACILITATOR: [cast.owner]},
        }
        return book(**(words | changes))

    return booked


def test_a_booked_session_has_its_crew_its_attendees_and_its_day(ask, cast, lead):
    ana = ContactFactory(lead=lead)
    session = ask(
        crew={Part.FACILITATOR: [cast.owner], Part.SUPPORT: [cast.member]}, attendees=[ana]
    )
    assert (session.state, session.day) == (State.BOOKED, date(2026, 3, 4))
    assert list(session.attendees.all()) == [ana]
    assert set(session.crew.values_list("member", "part")) == {
        (cast.owner.pk, "facilitator"),
        (cast.member.pk, "support"),
    }
    lead.refresh_from_db()
    assert (lead.standing, lead.standing_since) == ("session booked", date(2026, 3, 4))


def test_the_day_is_the_teams_own_wherever_the_hour_is_told_in_utc(ask, cast):
    # 03:30 in UTC on the 4th is 22:30 on the 3rd in New York.
    early = datetime(2026, 3, 4, 3, 30, tzinfo=UTC)
    assert ask(starts_at=early).day == date(2026, 3, 4)
    theirs = ask(
        lead=LeadFactory(team=cast.other_team),
        format=FormatFactory(team=cast.other_team),
        member=cast.other_owner,
        crew={Part.FACILITATOR: [cast.other_owner]},
        starts_at=early,
    )
    assert theirs.day == date(2026, 3, 3)


@pytest.mark.parametrize(
    ("crew", "field"),
    [
        ({}, "facilitator"),
        ({Part.FACILITATOR: ["owner", "member"]}, "facilitator"),
        ({Part.FACILITATOR: ["owner"], Part.NOTE_TAKER: ["owner"]}, "note_taker"),
        ({Part.FACILITATOR: ["owner"], Part.SUPPORT: ["reader"]}, "supports"),
        ({Part.FACILITATOR: ["other_owner"]}, "facilitator"),
        ({Part.FACILITATOR: ["owner"], Part.SUPPORT: ["member", "member"]}, "supports"),
    ],
)
def test_a_crew_has_one_facilitator_and_nobody_twice_and_no_reader(ask, cast, crew, field):
    people = {part: [getattr(cast, name) for name in names] for part, names in crew.items()}
    with pytest.raises(Refused) as refused:
        ask(crew=people)
    assert refused.value.field == field
    assert not DiscoverySession.objects.exists()


def test_formats_and_people_of_others_are_refused(ask, cast, lead):
    with pytest.raises(Refused, match="formats"):
        ask(format=FormatFactory(team=cast.other_team))
    with pytest.raises(Refused, match="no longer booked"):
        ask(format=FormatFactory(team=cast.team, retired_on=TODAY))
    elsewhere = ContactFactory(lead=LeadFactory(team=cast.team))
    with pytest.raises(Refused, match="people of this lead"):
        ask(attendees=[elsewhere])
    with pytest.raises(Refused, match="minutes"):
        ask(minutes=0)
    lead.merged_into = LeadFactory(team=cast.team)
    lead.save()
    with pytest.raises(Refused, match="merged"):
        ask()
    assert not DiscoverySession.objects.exists()


def test_a_moved_session_moves_its_day(ask, cast, lead):
    session = ask()
    moved = reschedule(
        session=session,
        member=cast.owner,
        now=NOW,
        starts_at=TOMORROW + timedelta(days=7),
        place="the old mill",
    )
    assert (moved.day, moved.place) == (date(2026, 3, 11), "the old mill")
    lead.refresh_from_db()
    assert lead.standing_since == date(2026, 3, 11)


def test_only_a_booked_session_is_moved(ask, cast):
    session = ask(starts_at=NOW)
    mark_missed(session=session, member=cast.owner, now=NOW)
    with pytest.raises(Refused, match="missed"):
        reschedule(session=session, member=cast.owner, now=NOW, starts_at=TOMORROW)


def test_a_session_that_is_over_is_not_changed_to_start_ahead(ask, cast):
    session = ask(starts_at=NOW)
    mark_missed(session=session, member=cast.owner, now=NOW)
    with pytest.raises(Refused) as refused:
        amend(session=session, member=cast.owner, now=NOW, starts_at=TOMORROW)
    assert refused.value.field == "starts_at"


def test_a_change_at_an_old_version_is_stale_and_changes_nothing(ask, cast):
    session = ask()
    amend(session=session, member=cast.owner, now=NOW, expected_version=1, minutes=45)
    with pytest.raises(Stale):
        amend(
            session=session,
            member=cast.owner,
            now=NOW,
            expected_version=1,
            minutes=90,
            crew={Part.FACILITATOR: [cast.member]},
        )
    session.refresh_from_db()
    assert (session.minutes, session.version) == (45, 2)
    assert CrewPlace.objects.get(session=session).member == cast.owner


def test_crew_members_may_swap_their_parts(ask, cast):
    session = ask(crew={Part.FACILITATOR: [cast.owner], Part.NOTE_TAKER: [cast.member]})
    amend(
        session=session,
        member=cast.owner,
        now=NOW,
        crew={Part.FACILITATOR: [cast.member], Part.NOTE_TAKER: [cast.owner]},
    )
    assert dict(session.crew.values_list("part", "member")) == {
        "facilitator": cast.member.pk,
        "note-taker": cast.owner.pk,
    }


def test_cancelled_twice_is_cancelled_once_by_the_first(ask, cast, lead):
    session = ask()
    cancel(session=session, member=cast.owner, now=NOW, reason="They fell ill.")
    later = NOW + timedelta(minutes=1)
    again = cancel(session=session, member=cast.member, now=later, reason="")
    assert (again.state, again.marked_by, again.reason) == (
        State.CANCELLED,
        cast.owner,
        "They fell ill.",
    )
    lead.refresh_from_db()
    assert lead.standing == "enquiry"


def test_a_cancelled_session_goes_back_to_booked_and_keeps_what_was_said(ask, cast):
    session = ask()
    cancel(session=session, member=cast.owner, now=NOW, reason="They fell ill.")
    back = put_back(session=session, member=cast.owner, now=NOW)
    assert (back.state, back.marked_at, back.reason) == (State.BOOKED, None, "They fell ill.")
    assert put_back(session=session, member=cast.owner, now=NOW).version == back.version


def test_a_missed_session_is_not_cancelled_and_a_cancelled_one_not_missed(ask, cast):
    missed, cancelled = ask(starts_at=NOW), ask(starts_at=NOW)
    mark_missed(session=missed, member=cast.owner, now=NOW)
    cancel(session=cancelled, member=cast.owner, now=NOW)
    with pytest.raises(Refused):
        cancel(session=missed, member=cast.owner, now=NOW)
    with pytest.raises(Refused):
        mark_missed(session=cancelled, member=cast.owner, now=NOW)
    assert mark_missed(session=missed, member=cast.member, now=NOW).marked_by == cast.owner
