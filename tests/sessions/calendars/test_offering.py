"""Times held for a lead: taken for everybody else until one is booked and the rest are free."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from django.db import IntegrityError, transaction

from pipeline.mail.models import Letter
from pipeline.teams.refused import Refused
from sessions.booking import book
from sessions.calendars.offering import free, hold_times, send_offer, take
from sessions.clashes import warnings_for_booking
from sessions.models import DiscoverySession, Offer, OfferedTime, Part
from tests.conftest import NOW
from tests.factories import ContactFactory, LeadFactory, OfferFactory

from .reading import read, read_all

TEN = datetime(2026, 3, 5, 10, 0, tzinfo=UTC)
TIMES = [TEN, TEN + timedelta(hours=3), TEN + timedelta(days=1)]


@pytest.fixture
def ana(lead):
    return ContactFactory(
        lead=lead, name="Ana Prado", email="ana@fernwick.example", timezone="America/New_York"
    )


@pytest.fixture
def ask(cast, lead, hour, ana):
    """Return a function that holds three times for Ana, with some words changed."""

    def held(**changes) -> Offer:
        words = {
            "lead": lead,
            "member": cast.member,
            "now": NOW,
            "format": hour,
            "minutes": 60,
            "starts": TIMES,
            "crew": {Part.FACILITATOR: [cast.owner], Part.NOTE_TAKER: [cast.member]},
            "contact": ana,
            "place": "https://meet.example/1",
        }
        return hold_times(**(words | changes))

    return held


def test_held_times_count_as_taken_for_the_crew(cast, ask, lead):
    ask()
    warnings = warnings_for_booking(
        team=cast.team,
        lead=LeadFactory(team=cast.team),
        starts_at=TEN + timedelta(minutes=30),
        minutes=60,
        crew=[cast.owner, cast.member],
    )
    assert warnings == [
        "Olive Brandt is held for an alternative: Fernwick Library, Thu 5 Mar, 10:00 to 11:00.",
        "Mateus Coelho is held for an alternative: Fernwick Library, Thu 5 Mar, 10:00 to 11:00.",
    ]


def test_between_held_times_the_crew_is_free(cast, ask):
    ask()
    assert not warnings_for_booking(
        team=cast.team,
        lead=LeadFactory(team=cast.team),
        starts_at=TEN + timedelta(hours=1),
        minutes=120,
        crew=[cast.owner],
    )


def test_nobody_is_held_twice(cast, ask, hour):
    ask()
    with pytest.raises(Refused, match="Thu 5 Mar, 10:00 is not free any more") as refused:
        ask(lead=LeadFactory(team=cast.team), contact=None, starts=[TEN])
    assert refused.value.field == "starts"
    assert Offer.objects.count() == 1


def test_a_booked_hour_is_not_held(cast, ask, hour):
    book(
        lead=LeadFactory(team=cast.team),
        member=cast.owner,
        now=NOW,
        format=hour,
        starts_at=TEN - timedelta(minutes=30),
        minutes=60,
        crew={Part.FACILITATOR: [cast.owner]},
    )
    with pytest.raises(Refused, match="not free any more"):
        ask()


@pytest.mark.parametrize("count", [0, 6])
def test_one_to_five_times_are_held(ask, count):
    with pytest.raises(Refused, match="one to 5"):
        ask(starts=[TEN + timedelta(hours=n) for n in range(count)])


def test_what_is_over_another_leads_person_and_a_second_offer_are_refused(cast, ask):
    with pytest.raises(Refused, match="begun"):
        ask(starts=[NOW, TEN])
    with pytest.raises(Refused, match="people"):
        ask(contact=ContactFactory(lead=LeadFactory(team=cast.team)))
    with pytest.raises(Refused, match="facilitator"):
        ask(crew={})
    ask()
    with pytest.raises(Refused, match="held for Fernwick Library already"):
        ask(starts=[TEN + timedelta(days=4)])


def test_the_database_holds_one_open_offer_a_lead(lead):
    OfferFactory(lead=lead)
    with pytest.raises(IntegrityError), transaction.atomic():
        OfferFactory(lead=lead)
    Offer.objects.update(closed_at=NOW)
    OfferFactory(lead=lead)


def test_the_letter_has_every_time_on_both_clocks_and_an_entry_for_each(cast, ask):
    offer = ask()
    assert send_offer(offer=offer, member=cast.member, now=NOW)
    assert not send_offer(offer=offer, member=cast.member, now=NOW)
    letter = Letter.objects.get()
    assert (letter.to, letter.by) == ("ana@fernwick.example", cast.member)
    assert (
        "- Thursday 5 March 2026, 05:00 to 06:00 (America/New_York)\n"
        "  that is Thursday 5 March 2026, 10:00 to 11:00 (Europe/Lisbon)\n"
    ) in letter.text
    found = read_all(letter.calendar)
    assert [entry.starts for entry in found] == TIMES
    assert len({entry.uid for entry in found}) == 3
    # RFC 5546, 3.2.1: entries that are published name their organiser, and nobody invited
    assert {(e.method, e.status, e.organizer, e.people) for e in found} == {
        ("PUBLISH", "TENTATIVE", "olive@harbour.example", frozenset())
    }


def test_taking_one_books_it_and_frees_the_others(cast, ask, ana):
    offer = ask()
    send_offer(offer=offer, member=cast.member, now=NOW)
    before = [entry.uid for entry in read_all(Letter.objects.get().calendar)]
    session, first = take(time=offer.times.all()[1], member=cast.member, now=NOW)
    assert first
    assert (session.starts_at, session.minutes) == (TIMES[1], 60)
    assert session.place == "https://meet.example/1"
    assert list(session.attendees.all()) == [ana]
    assert set(session.crew.values_list("member", "part")) == {
        (cast.owner.pk, "facilitator"),
        (cast.member.pk, "note-taker"),
    }
    offer.refresh_from_db()
    assert (offer.session, offer.closed_by) == (session, cast.member)
    assert not warnings_for_booking(
        team=cast.team,
        lead=LeadFactory(team=cast.team),
        starts_at=TEN,
        minutes=60,
        crew=[cast.owner],
    )
    freed, invited = Letter.objects.filter(to=ana.email).order_by("pk")[1:]
    gone = read_all(freed.calendar)
    assert [entry.uid for entry in gone] == before
    assert {(e.status, e.sequence) for e in gone} == {("CANCELLED", 1)}
    assert read(invited.calendar).method == "REQUEST"
    assert read(invited.calendar).starts == TIMES[1]


def test_taken_twice_is_taken_once(cast, ask):
    offer = ask()
    time = offer.times.first()
    session, _ = take(time=time, member=cast.member, now=NOW)
    assert take(time=time, member=cast.owner, now=NOW) == (session, False)
    with pytest.raises(Refused, match="not held any more"):
        take(time=offer.times.last(), member=cast.owner, now=NOW)
    assert DiscoverySession.objects.count() == 1


def test_a_time_that_is_over_is_not_taken(cast, ask):
    offer = ask()
    with pytest.raises(Refused, match="over"):
        take(time=offer.times.first(), member=cast.member, now=TEN)
    take(time=offer.times.last(), member=cast.member, now=TEN)


def test_freed_without_one_taken_the_lead_is_told_where_it_was_written_to(cast, ask, ana):
    quiet = ask()
    assert free(offer=quiet, member=cast.member, now=NOW)
    assert not free(offer=quiet, member=cast.member, now=NOW)
    assert not Letter.objects.exists()
    told = ask()
    send_offer(offer=told, member=cast.member, now=NOW)
    free(offer=told, member=cast.owner, now=NOW)
    last = Letter.objects.order_by("pk").last()
    assert "free again" in last.text
    assert {e.status for e in read_all(last.calendar)} == {"CANCELLED"}
    with pytest.raises(Refused, match="not held any more"):
        send_offer(offer=told, member=cast.member, now=NOW)
    with pytest.raises(Refused, match="not held any more"):
        take(time=OfferedTime.objects.filter(offer=told).first(), member=cast.member, now=NOW)


def test_without_an_address_there_is_no_letter(cast, ask):
    offer = ask(contact=None)
    with pytest.raises(Refused, match="copy the text"):
        send_offer(offer=offer, member=cast.member, now=NOW)
    take(time=offer.times.first(), member=cast.member, now=NOW)
    assert not Letter.objects.exists()
