"""From a search for times to a booked session, page by page."""

from __future__ import annotations

import uuid
from datetime import UTC, date, datetime, timedelta

import pytest

from pipeline.mail.models import Letter
from sessions.models import DiscoverySession, Offer
from tests.conftest import NOW
from tests.factories import AbsenceFactory, ContactFactory, LeadFactory, OfferFactory
from tests.sessions.pages import at, booking, said

from .reading import read


@pytest.fixture
def ana(lead):
    return ContactFactory(
        lead=lead, name="Ana Prado", email="ana@fernwick.example", timezone="America/New_York"
    )


@pytest.fixture
def search(cast, hour, ana):
    """What a browser sends for two days from tomorrow, on Ana's clock too."""
    return {
        "format": hour.pk,
        "minutes": "",
        "facilitator": cast.owner.pk,
        "note_taker": cast.member.pk,
        "contact": ana.pk,
        "first": "2026-03-04",
        "days": "2",
        "place": "https://meet.example/1",
    }


def starts(page) -> list[datetime]:
    return [slot.starts_at for _, slots in page.context["found"].days for slot in slots]


def test_a_search_finds_what_is_free_on_both_clocks(cast, sign_in, lead, search, hour):
    OfferFactory(
        lead=LeadFactory(team=cast.team), starts=[datetime(2026, 3, 4, 14, 0, tzinfo=UTC)]
    ).crew.create(team=cast.team, member=cast.member, part="facilitator")
    page = sign_in(cast.member).get(at(cast.team, "session-times", lead.pk), search)
    found = starts(page)
    # five hours apart: from two to five in Lisbon, and Wednesday's first hour is held
    assert [(s.day, s.hour, s.minute) for s in found][:2] == [(4, 15, 0), (4, 15, 30)]
    assert [(s.day, s.hour, s.minute) for s in found if s.day == 5] == [
        (5, 14, 0),
        (5, 14, 30),
        (5, 15, 0),
        (5, 15, 30),
        (5, 16, 0),
    ]
    assert "(09:00 to 10:00)" in page.text


def test_two_that_share_no_hour_are_told_and_may_look_beyond(cast, sign_in, lead, search, ana):
    ana.timezone = "Pacific/Auckland"
    ana.save()
    browser = sign_in(cast.member)
    url = at(cast.team, "session-times", lead.pk)
    none = browser.get(url, search)
    assert "of both Europe/Lisbon and Pacific/Auckland" in none.text
    more = browser.get(url, search | {"only_ours": "on"})
    assert len(starts(more)) == 30


def test_times_are_ticked_held_sent_and_one_is_taken(cast, sign_in, lead, search, ana):
    browser = sign_in(cast.member)
    url = at(cast.team, "session-times", lead.pk)
    found = starts(browser.get(url, search))
    typed = search | {
        "submission": str(uuid.uuid4()),
        "starts": [found[0].isoformat(), found[-1].isoformat()],
    }
    done = browser.post(url, typed, follow=True)
    assert said(done) == ["The times are held."]
    again = browser.post(url, typed, follow=True)
    assert said(again) == ["Already done, once. The times are held."]
    offer = Offer.objects.get()
    assert [t.starts_at for t in offer.times.all()] == [found[0], found[-1]]
    assert "Wednesday 4 March 2026, 09:00 to 10:00 (America/New_York)" in done.text
    assert "Which suits you best?" in done.text
    assert "See them" in browser.get(url).text

    sent = browser.post(at(cast.team, "offer-send", offer.pk), follow=True)
    assert said(sent) == ["The letter is on its way."]
    twice = browser.post(at(cast.team, "offer-send", offer.pk), follow=True)
    assert said(twice) == ["The letter was sent already, once."]

    second = offer.times.last()
    entry = browser.get(at(cast.team, "offered-entry", second.pk))
    assert read(entry.content.decode()).starts == second.starts_at
    taken = browser.post(at(cast.team, "offered-take", second.pk), follow=True)
    session = DiscoverySession.objects.get()
    assert taken.request["PATH_INFO"] == at(cast.team, "session", session.pk)
    back = browser.post(at(cast.team, "offered-take", second.pk), follow=True)
    assert said(back) == ["It was booked already, once."]
    assert DiscoverySession.objects.count() == 1
    assert (
        "Taken, and booked by Mateus Coelho" in browser.get(at(cast.team, "offer", offer.pk)).text
    )
    # the times, that they are settled, and the invitation
    assert Letter.objects.filter(to=ana.email).count() == 3


def test_a_time_that_somebody_else_took_meanwhile_is_told_and_the_ticks_stay(
    cast, sign_in, lead, search
):
    browser = sign_in(cast.member)
    url = at(cast.team, "session-times", lead.pk)
    found = starts(browser.get(url, search))
    other = LeadFactory(team=cast.team)
    OfferFactory(lead=other, starts=[found[0]]).crew.create(
        team=cast.team, member=cast.owner, part="facilitator"
    )
    page = browser.post(
        url,
        search
        | {
            "submission": str(uuid.uuid4()),
            "starts": [found[0].isoformat(), found[-1].isoformat()],
        },
    )
    assert page.status_code == 422
    assert "is not free any more" in page.text
    ticked = [s.starts_at for _, slots in page.context["found"].days for s in slots if s.ticked]
    assert ticked == [found[-1]]


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("first", "soon"),
        ("first", "9999-12-31"),
        ("days", "0"),
        ("days", "400"),
        ("minutes", "-5"),
        ("format", "x"),
        ("contact", "99999999999999999999"),
        ("facilitator", ""),
        ("supports", "1e9"),
    ],
)
def test_a_bad_search_names_the_field_and_finds_nothing(cast, sign_in, lead, search, field, typed):
    url = at(cast.team, "session-times", lead.pk)
    page = sign_in(cast.member).get(url, search | {field: typed})
    assert page.status_code == 422
    assert field in page.context["form"].errors
    assert page.context["found"] is None


@pytest.mark.parametrize("typed", ["", "soon", "2026-03-04T10:00", "9999-12-31T23:59:59+00:00"])
def test_what_is_no_moment_is_not_held(cast, sign_in, lead, search, typed):
    url = at(cast.team, "session-times", lead.pk)
    data = search | {"submission": str(uuid.uuid4()), "starts": typed}
    assert sign_in(cast.member).post(url, data).status_code == 422
    assert not Offer.objects.exists()


def test_a_found_time_fills_the_booking(cast, sign_in, lead, search, ana, hour):
    browser = sign_in(cast.member)
    page = browser.get(at(cast.team, "session-times", lead.pk), search)
    slot = page.context["found"].days[0][1][0]
    form = browser.get(f"{at(cast.team, 'session-book', lead.pk)}?{slot.book}").context["form"]
    assert form["starts_at"].value() == "2026-03-04T14:00"
    assert str(form["facilitator"].value()) == str(cast.owner.pk)
    assert form["attendees"].value() == [str(ana.pk)]
    assert form["place"].value() == "https://meet.example/1"


def test_an_address_that_says_nonsense_fills_in_nothing_wrong(cast, sign_in, lead, hour):
    url = at(cast.team, "session-book", lead.pk)
    page = sign_in(cast.member).get(
        url, {"format": "x", "starts_at": "soon", "supports": ["y", "1"], "minutes": "many"}
    )
    assert page.status_code == 200
    assert sign_in(cast.member).post(url, booking(cast, hour)).status_code == 302


def test_what_a_booking_would_be_warned_of_is_said_after_a_time_is_taken(cast, sign_in, lead):
    cast.team.weekly_free_minutes = 30
    cast.team.save()
    offer = OfferFactory(lead=lead)
    offer.crew.create(team=cast.team, member=cast.owner, part="facilitator")
    time = offer.times.get()
    done = sign_in(cast.member).post(at(cast.team, "offered-take", time.pk), follow=True)
    assert any("the team's limit is 30 min" in words for words in said(done))
    assert DiscoverySession.objects.get().starts_at == time.starts_at


def test_freed_times_are_told_to_be_free(cast, sign_in, lead):
    offer = OfferFactory(lead=lead)
    browser = sign_in(cast.member)
    first = browser.post(at(cast.team, "offer-free", offer.pk), follow=True)
    assert said(first) == ["The times are free again."]
    second = browser.post(at(cast.team, "offer-free", offer.pk), follow=True)
    assert said(second) == ["They were not held any more."]
    assert "Free again since" in second.text


QUERIES = {
    "session-times": [
        "the lead",
        "whether times are held for it",
        "formats to choose from",
        "members to facilitate",
        "members to take notes",
        "members in support",
        "contacts of the lead",
    ],
    "offer": ["the offer with its names", "its times", "its crew", "whether no letter may go out"],
}


@pytest.mark.parametrize("name", QUERIES)
def test_a_page_asks_only_these(cast, sign_in, lead, hour, ana, name, django_assert_num_queries):
    held = OfferFactory(
        lead=lead, contact=ana, starts=[NOW + timedelta(days=n) for n in range(1, 6)]
    )
    for who, part in ((cast.owner, "facilitator"), (cast.member, "note-taker")):
        held.crew.create(team=cast.team, member=who, part=part)
    page = at(cast.team, name, lead.pk if name == "session-times" else held.pk)
    browser = sign_in(cast.member)
    # the login session, the user, the membership with its team
    with django_assert_num_queries(3 + len(QUERIES[name])):
        assert browser.get(page).status_code == 200


def test_no_time_is_found_on_days_when_one_of_the_crew_is_away_and_the_page_says_so(
    cast, sign_in, lead, search
):
    AbsenceFactory(member=cast.member, first_day=date(2026, 3, 5), last_day=date(2026, 3, 20))
    AbsenceFactory(member=cast.owner, first_day=date(2026, 3, 6))
    page = sign_in(cast.member).get(at(cast.team, "session-times", lead.pk), search)
    assert {start.day for start in starts(page)} == {4}
    assert "Mateus Coelho is away, Thu 5 Mar 2026 to Fri 20 Mar 2026: no time" in page.text
    assert "Olive Brandt is away" not in page.text
