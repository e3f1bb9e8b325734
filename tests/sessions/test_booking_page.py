"""Booking in the browser: warned, asked again, booked once."""

import pytest

from sessions.models import DiscoverySession
from tests.factories import ContactFactory, LeadFactory

from .pages import at, booking, box_of, said


@pytest.fixture
def page(cast, lead):
    return at(cast.team, "session-book", lead.pk)


def test_a_session_is_booked_for_as_long_as_its_format_takes(cast, sign_in, lead, hour, page):
    ana = ContactFactory(lead=lead)
    browser = sign_in(cast.member)
    assert browser.get(page).status_code == 200
    after = browser.post(page, booking(cast, hour, attendees=[ana.pk]), follow=True)

    session = DiscoverySession.objects.get()
    assert after.redirect_chain == [(at(cast.team, "session", session.pk), 302)]
    assert (session.minutes, session.lead, session.recorded_by) == (60, lead, cast.member)
    assert list(session.attendees.all()) == [ana]


def test_a_double_click_books_once_and_says_so(cast, sign_in, hour, page):
    browser = sign_in(cast.member)
    post = booking(cast, hour)
    first = browser.post(page, post)
    second = browser.post(page, post, follow=True)
    assert DiscoverySession.objects.count() == 1
    assert second.redirect_chain[0][0] == first.url
    assert any("Already done" in words for words in said(second))


def test_after_a_warning_nothing_typed_is_lost_and_the_box_books_it(
    cast, sign_in, booked, hour, page
):
    browser = sign_in(cast.member)
    post = booking(
        cast,
        hour,
        starts_at="2026-03-03T08:30",
        facilitator=cast.owner.pk,
        place="the old mill",
        minutes="45",
    )
    warned = browser.post(page, post)
    assert warned.status_code == 422
    assert "Olive Brandt is already taken" in warned.content.decode()
    assert 'value="the old mill"' in warned.content.decode()
    assert 'value="2026-03-03T08:30"' in warned.content.decode()
    assert 'value="45"' in warned.content.decode()
    assert DiscoverySession.objects.count() == 1

    accepted = post | {"all_the_same": box_of(warned, "all_the_same")}
    assert browser.post(page, accepted).status_code == 302
    assert DiscoverySession.objects.count() == 2


def test_a_box_that_was_ticked_for_other_warnings_counts_for_nothing(
    cast, sign_in, booked, hour, page
):
    browser = sign_in(cast.member)
    post = booking(cast, hour, starts_at="2026-03-03T08:30", facilitator=cast.owner.pk)
    ticked = box_of(browser.post(page, post), "all_the_same")
    cast.team.weekly_free_minutes = 60
    cast.team.save()

    again = browser.post(page, post | {"all_the_same": ticked})
    assert again.status_code == 422
    assert "the team&#x27;s limit" in again.content.decode()
    assert box_of(again, "all_the_same") != ticked
    assert DiscoverySession.objects.count() == 1


def test_a_retired_format_and_a_merged_lead_cannot_be_booked(cast, sign_in, lead, hour, page):
    hour.retired_on = lead.enquired_on
    hour.save()
    browser = sign_in(cast.member)
    assert browser.post(page, booking(cast, hour)).status_code == 422
    lead.merged_into = LeadFactory(team=cast.team)
    lead.save()
    assert browser.get(page).status_code == 404


def test_nobody_is_chosen_beforehand_in_words(cast, sign_in, hour, page):
    html = sign_in(cast.member).get(page).content.decode()
    assert "choose a member" in html
    assert "choose a format" in html
    assert "-----" not in html
