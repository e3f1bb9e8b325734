"""Whoever was invited is told of each change, and of nothing else."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from pipeline.mail.models import Letter
from pipeline.teams.refused import Refused
from sessions.booking import amend, book, cancel, mark_missed, put_back
from sessions.calendars.inviting import invite
from sessions.holding import hold
from sessions.models import CalendarEntry, Part
from tests.conftest import NOW
from tests.factories import ContactFactory, SessionFactory

from .reading import read

TOMORROW = datetime(2026, 3, 4, 10, 0, tzinfo=UTC)


@pytest.fixture
def ana(lead):
    return ContactFactory(
        lead=lead, name="Ana Prado", email="ana@fernwick.example", timezone="America/New_York"
    )


@pytest.fixture
def session(cast, lead, hour, ana):
    """Tomorrow at ten: Olive facilitates, Mateus takes notes, Ana comes."""
    return book(
        lead=lead,
        member=cast.member,
        now=NOW,
        format=hour,
        starts_at=TOMORROW,
        minutes=60,
        place="https://meet.example/room,1",
        beforehand="https://pages.example/read",
        crew={Part.FACILITATOR: [cast.owner], Part.NOTE_TAKER: [cast.member]},
        attendees=[ana],
    )


@pytest.fixture
def invited(cast, session):
    assert invite(session=session, member=cast.member, now=NOW) == 2
    return session


def news() -> dict[str, list[Letter]]:
    """Return the letters so far by address, in the order in which they were written."""
    found: dict[str, list[Letter]] = {}
    for letter in Letter.objects.order_by("pk"):
        found.setdefault(letter.to, []).append(letter)
    return found


def test_nobody_is_invited_by_a_booking_alone(session):
    assert not Letter.objects.exists()


def test_an_invitation_holds_all_that_somebody_who_comes_needs(cast, invited):
    letters = news()
    assert set(letters) == {"ana@fernwick.example", "mateus@harbour.example"}
    letter = letters["ana@fernwick.example"][0]
    found = read(letter.calendar)
    assert (found.method, found.sequence, found.status) == ("REQUEST", 0, "CONFIRMED")
    assert (found.starts, found.ends) == (TOMORROW, TOMORROW + timedelta(hours=1))
    assert found.summary == "Discovery hour: Fernwick Library with Harbour Studio"
    assert found.organizer == "olive@harbour.example"
    assert found.people == {
        "olive@harbour.example",
        "mateus@harbour.example",
        "ana@fernwick.example",
    }
    assert found.place == "https://meet.example/room,1"
    assert found.raw.url.value == "https://meet.example/room,1"
    assert "Please open beforehand: https://pages.example/read" in found.description
    assert (letter.member, letter.by) == (None, cast.member)
    assert letter.subject == "Invitation: Discovery hour: Fernwick Library with Harbour Studio"


def test_the_letter_tells_the_hour_on_both_clocks(invited):
    text = news()["ana@fernwick.example"][0].text
    assert "Wednesday 4 March 2026, 05:00 to 06:00 (America/New_York)\n" in text
    assert "Wednesday 4 March 2026, 10:00 to 11:00 (Europe/Lisbon)\n" in text
    assert "Join: https://meet.example/room,1\n" in text
    assert "Mateus Coelho invites you" in text
    assert "\n\n\n" not in text
    own = news()["mateus@harbour.example"][0].text
    assert own.count("10:00 to 11:00") == 1
    assert "New_York" not in own


def test_invited_again_with_nothing_new_nobody_hears_of_it(cast, invited):
    assert invite(session=invited, member=cast.member, now=NOW) == 0
    assert Letter.objects.count() == 2


def test_a_new_hour_goes_to_all_with_the_next_number(cast, invited):
    later = NOW + timedelta(minutes=5)
    new = TOMORROW + timedelta(hours=3)
    amend(session=invited, member=cast.owner, now=later, starts_at=new)
    for letters in news().values():
        first, second = (read(letter.calendar) for letter in letters)
        assert first.uid == second.uid
        assert (second.method, second.sequence) == ("REQUEST", 1)
        assert (second.starts, second.stamp) == (new, later)
        assert letters[1].subject.startswith("Changed: ")


def test_what_nobody_outside_is_told_makes_no_letter(cast, invited):
    amend(session=invited, member=cast.owner, now=NOW, plain={"effort_before": 30})
    assert Letter.objects.count() == 2


def test_who_joins_is_invited_and_the_others_are_left_in_peace(cast, lead, invited, ana):
    ben = ContactFactory(lead=lead, name="Ben Oduya", email="ben@fernwick.example")
    amend(session=invited, member=cast.owner, now=NOW, attendees=[ana, ben])
    letters = news()
    assert {to: len(of) for to, of in letters.items()} == {
        "ana@fernwick.example": 1,
        "mateus@harbour.example": 1,
        "ben@fernwick.example": 1,
    }
    assert read(letters["ben@fernwick.example"][0].calendar).method == "REQUEST"


def test_who_is_no_longer_needed_is_taken_off_alone(cast, invited):
    amend(session=invited, member=cast.owner, now=NOW, attendees=[])
    letters = news()
    assert len(letters["mateus@harbour.example"]) == 1
    gone = letters["ana@fernwick.example"][1]
    found = read(gone.calendar)
    assert (found.method, found.sequence, found.status) == ("CANCEL", 1, "")
    assert found.people == {"ana@fernwick.example"}
    assert "takes place without you" in gone.text


def test_a_cancelled_session_is_cancelled_for_all_and_why_stays_inside(cast, invited):
    cancel(session=invited, member=cast.owner, now=NOW, reason="They fell out.")
    cancel(session=invited, member=cast.owner, now=NOW)
    for letters in news().values():
        assert len(letters) == 2
        found = read(letters[1].calendar)
        assert (found.method, found.sequence, found.status) == ("CANCEL", 1, "CANCELLED")
        assert "fell out" not in letters[1].text + letters[1].calendar


def test_a_session_that_is_booked_again_is_asked_for_again(cast, invited):
    cancel(session=invited, member=cast.owner, now=NOW)
    put_back(session=invited, member=cast.owner, now=NOW)
    for letters in news().values():
        assert [read(letter.calendar).sequence for letter in letters] == [0, 1, 2]
        assert read(letters[2].calendar).method == "REQUEST"


def test_of_the_past_nobody_is_told(cast, invited):
    over = TOMORROW + timedelta(hours=2)
    hold(session=invited, member=cast.owner, now=over)
    amend(session=invited, member=cast.owner, now=over, minutes=90)
    put_back(session=invited, member=cast.owner, now=over)
    mark_missed(session=invited, member=cast.owner, now=over)
    assert Letter.objects.count() == 2


def test_who_was_never_invited_is_told_nothing(cast, session):
    amend(session=session, member=cast.owner, now=NOW, minutes=90)
    cancel(session=session, member=cast.owner, now=NOW)
    assert not Letter.objects.exists()
    assert not CalendarEntry.objects.exists()


def test_one_address_gets_one_letter(cast, lead, invited, ana):
    twin = ContactFactory(lead=lead, name="Also Ana", email="ANA@fernwick.example")
    nobody = ContactFactory(lead=lead, name="No Address", email="")
    amend(session=invited, member=cast.owner, now=NOW, attendees=[ana, twin, nobody])
    assert Letter.objects.count() == 2


def test_the_entry_stays_whose_it_was_when_another_facilitates(cast, invited):
    amend(
        session=invited,
        member=cast.owner,
        now=NOW,
        minutes=45,
        crew={Part.FACILITATOR: [cast.member]},
    )
    found = read(news()["ana@fernwick.example"][1].calendar)
    assert found.organizer == "olive@harbour.example"


def test_to_what_is_over_or_cancelled_or_without_an_hour_nobody_is_invited(cast, session, lead):
    with pytest.raises(Refused, match="lies ahead"):
        invite(session=session, member=cast.owner, now=TOMORROW + timedelta(hours=2))
    with pytest.raises(Refused, match="lies ahead"):
        invite(session=SessionFactory(lead=lead), member=cast.owner, now=NOW)
    cancel(session=session, member=cast.owner, now=NOW)
    with pytest.raises(Refused, match="cancelled"):
        invite(session=session, member=cast.owner, now=NOW)
    assert not CalendarEntry.objects.exists()


def test_a_session_without_anybodys_address_invites_nobody(cast, lead):
    empty = SessionFactory(lead=lead, starts_at=TOMORROW)
    with pytest.raises(Refused, match="e-mail address"):
        invite(session=empty, member=cast.owner, now=NOW)
