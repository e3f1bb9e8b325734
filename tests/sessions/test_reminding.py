"""The crew is reminded of a session a day before it starts, once for each hour it was to start."""

from datetime import UTC, datetime, timedelta

import pytest

from pipeline.followups.sweep import sweep
from pipeline.jobs.models import Job
from pipeline.mail.models import Letter
from sessions.booking import amend, book, cancel, mark_missed, put_back, reschedule
from sessions.models import Part
from tests.conftest import NOW, TODAY
from tests.factories import AbsenceFactory, ContactFactory

pytestmark = pytest.mark.django_db

# Friday, 14:00 in Lisbon.
FRIDAY = datetime(2026, 3, 6, 14, tzinfo=UTC)
DAY = timedelta(days=1)
MINUTE = timedelta(minutes=1)


@pytest.fixture
def ask(cast, lead, hour):
    """Return a function that books a session for Friday, with some words changed."""

    def booked(**changes):
        words = {
            "lead": lead,
            "member": cast.owner,
            "now": NOW,
            "format": hour,
            "starts_at": FRIDAY,
            "minutes": 60,
            "place": "https://call.example/fernwick",
            "crew": {Part.FACILITATOR: [cast.owner], Part.NOTE_TAKER: [cast.member]},
        }
        return book(**(words | changes))

    return booked


def reminded(now):
    """Do what is due at ``now``; return to whom reminders were written by then, in order."""
    sweep(now)
    rows = Letter.objects.filter(stops="reminders").order_by("due_at", "to")
    return [row.to.split("@")[0] for row in rows]


def test_it_comes_a_day_before_to_the_whole_crew(ask, cast, lead, settings):
    settings.BASE_URL = "https://desk.example"
    session = ask(attendees=[ContactFactory(lead=lead, name="Ida Brun")])
    assert reminded(FRIDAY - DAY - MINUTE) == []
    assert reminded(FRIDAY - DAY) == ["mateus", "olive"]
    assert reminded(FRIDAY) == ["mateus", "olive"]
    letter = Letter.objects.get(to="mateus@harbour.example", stops="reminders")
    assert letter.subject == (
        "Harbour Studio: session with Fernwick Library, Fri 6 Mar 2026, 14:00"
    )
    assert (
        letter.text.partition("\nYou get this letter")[0]
        == f"""Good day Mateus Coelho,

the session with Fernwick Library starts Fri 6 Mar 2026, 14:00 (Europe/Lisbon) and takes 1 h.

Format: Discovery hour
Place: https://call.example/fernwick
Crew: Olive Brandt, facilitator; Mateus Coelho, note-taker
People of the lead: Ida Brun

The session, where it can be moved or cancelled:
https://desk.example/t/harbour/sessions/{session.pk}/

Its desk:
https://desk.example/t/harbour/sessions/{session.pk}/desk/
"""
    )


def test_one_that_is_booked_later_than_that_comes_at_once(ask):
    ask(starts_at=NOW + timedelta(hours=3))
    assert reminded(NOW) == ["mateus", "olive"]


@pytest.mark.parametrize("hours", [1, 0.5, 0, -2])
def test_whoever_books_for_within_the_hour_or_for_the_past_is_not_reminded(ask, hours):
    ask(starts_at=NOW + timedelta(hours=hours))
    assert not Job.objects.exists()


def test_a_moved_session_is_reminded_of_by_its_new_hour_alone(ask):
    session = ask()
    reschedule(session=session, member=None, now=NOW, starts_at=FRIDAY + 3 * DAY)
    assert reminded(FRIDAY - DAY) == []
    assert reminded(FRIDAY + 2 * DAY) == ["mateus", "olive"]


def test_one_that_is_moved_away_and_back_is_reminded_of_once(ask):
    session = ask()
    session = reschedule(session=session, member=None, now=NOW, starts_at=FRIDAY + 3 * DAY)
    assert reminded(FRIDAY - DAY) == []
    local = FRIDAY.astimezone(session.starts_at.tzinfo)
    reschedule(session=session, member=None, now=FRIDAY - DAY, starts_at=local)
    assert reminded(FRIDAY - DAY) == ["mateus", "olive"]
    assert reminded(FRIDAY + 3 * DAY) == ["mateus", "olive"]


def test_of_one_that_is_cancelled_nobody_hears_and_of_one_put_back_they_do(ask):
    session = cancel(session=ask(), member=None, now=NOW)
    assert reminded(FRIDAY - DAY) == []
    put_back(session=session, member=None, now=FRIDAY - DAY + MINUTE)
    assert reminded(FRIDAY - DAY + MINUTE) == ["mateus", "olive"]


def test_after_a_stand_still_nobody_is_reminded_of_what_has_begun(ask):
    ask()
    assert reminded(FRIDAY) == []
    ask(starts_at=FRIDAY + 7 * DAY)
    assert reminded(FRIDAY + 7 * DAY - MINUTE) == ["mateus", "olive"]


def test_who_joins_the_crew_after_the_reminder_gets_one_and_no_other_gets_two(ask, cast):
    session = ask(crew={Part.FACILITATOR: [cast.owner]})
    assert reminded(FRIDAY - DAY) == ["olive"]
    crew = {Part.FACILITATOR: [cast.owner], Part.SUPPORT: [cast.member]}
    later = FRIDAY - DAY / 2
    amend(session=session, member=None, now=later, crew=crew)
    assert reminded(later) == ["olive", "mateus"]


def test_an_edit_that_moves_nobody_and_nothing_plans_nothing(ask):
    session = ask()
    amend(session=session, member=None, now=NOW, plain={"place": "Room 2"})
    assert Job.objects.filter(kind="session reminder").count() == 1


def test_who_wants_none_who_left_and_who_only_reads_by_now_get_none(ask, cast):
    ask()
    cast.owner.wants_reminders = False
    cast.owner.save()
    cast.member.left_on = TODAY
    cast.member.save()
    assert reminded(FRIDAY - DAY) == []
    assert Job.objects.stuck().count() == 0


def test_of_one_who_is_away_on_the_day_the_stand_in_hears(ask, cast):
    ask(crew={Part.FACILITATOR: [cast.owner]})
    AbsenceFactory(
        member=cast.owner,
        stand_in=cast.member,
        first_day=FRIDAY.date() - DAY,
        last_day=FRIDAY.date(),
    )
    assert reminded(FRIDAY - DAY) == ["mateus"]
    text = Letter.objects.get(stops="reminders").text
    assert "Crew: Mateus Coelho (for Olive Brandt, away until 6 Mar 2026), facilitator" in text


def test_one_who_is_here_today_and_away_on_the_day_hears_too(ask, cast):
    ask(crew={Part.FACILITATOR: [cast.owner]})
    AbsenceFactory(member=cast.owner, stand_in=cast.member, first_day=FRIDAY.date())
    assert reminded(FRIDAY - DAY) == ["mateus", "olive"]


def test_one_whose_last_day_away_is_the_day_before_hears(ask, cast):
    ask(crew={Part.FACILITATOR: [cast.owner]})
    AbsenceFactory(member=cast.owner, first_day=TODAY, last_day=FRIDAY.date() - DAY)
    assert reminded(FRIDAY - DAY) == ["olive"]


def test_a_day_before_is_24_hours_also_where_the_clocks_change(ask):
    # Lisbon's clocks go forward on 29 March 2026 at 01:00 UTC (IANA tzdata).
    sunday = datetime(2026, 3, 29, 13, tzinfo=UTC)
    ask(starts_at=sunday)
    assert Job.objects.get(kind="session reminder").due_at == sunday - DAY


def test_a_session_that_was_missed_is_not_reminded_of(ask):
    session = ask(starts_at=NOW + timedelta(hours=2))
    mark_missed(session=session, member=None, now=NOW)
    assert reminded(NOW) == []
