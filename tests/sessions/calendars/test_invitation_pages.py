"""Invite with the booking or from the session's page; keep an entry for oneself."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from pipeline.mail.models import Letter
from sessions.models import DiscoverySession
from tests.factories import ContactFactory, SessionFactory
from tests.sessions.pages import at, booking, editing, said

from .reading import read


@pytest.fixture
def ana(lead):
    return ContactFactory(lead=lead, name="Ana Prado", email="ana@fernwick.example")


@pytest.fixture
def session(lead, ana, cast):
    found = SessionFactory(
        lead=lead, day="2026-03-04", starts_at=datetime(2026, 3, 4, 10, 0, tzinfo=UTC)
    )
    found.attendees.add(ana)
    found.crew.create(team=cast.team, member=cast.owner, part="facilitator")
    return found


def test_a_booking_invites_where_that_is_ticked(cast, sign_in, lead, hour, ana):
    browser = sign_in(cast.member)
    page = at(cast.team, "session-book", lead.pk)
    typed = booking(cast, hour, attendees=[ana.pk], invite="on", beforehand="pages.example/read")
    done = browser.post(page, typed, follow=True)
    assert "1 letter is on the way, with an entry for the calendar." in said(done)
    letter = Letter.objects.get()
    assert (letter.to, letter.by) == (ana.email, cast.member)
    assert "https://pages.example/read" in letter.text
    # the second click
    browser.post(page, typed, follow=True)
    assert Letter.objects.count() == 1


def test_a_session_of_the_past_is_booked_without_a_letter(cast, sign_in, lead, hour, ana):
    typed = booking(cast, hour, attendees=[ana.pk], invite="on", starts_at="2026-03-02T10:00")
    sign_in(cast.member).post(at(cast.team, "session-book", lead.pk), typed)
    assert DiscoverySession.objects.count() == 1
    assert not Letter.objects.exists()


def test_the_box_is_ticked_from_the_start(cast, sign_in, lead, hour):
    page = sign_in(cast.member).get(at(cast.team, "session-book", lead.pk))
    assert page.context["form"]["invite"].value() is True


def test_the_session_page_says_who_was_invited_and_offers_it_once(cast, sign_in, session):
    browser = sign_in(cast.member)
    page = at(cast.team, "session", session.pk)
    button = "Invite all of them by letter"
    before = browser.get(page).text
    assert "Nobody was invited by letter." in before
    assert button in before
    browser.post(at(cast.team, "session-invite", session.pk))
    after = browser.get(page).text
    assert "It is Olive Brandt’s entry. Ana Prado was invited" in after
    assert button not in after
    again = browser.post(at(cast.team, "session-invite", session.pk), follow=True)
    assert said(again) == ["Nobody is left to be told: everybody else knows already."]
    assert Letter.objects.count() == 1
    assert button not in sign_in(cast.reader).get(page).text


def test_a_change_typed_into_the_page_reaches_those_invited(cast, sign_in, session):
    browser = sign_in(cast.owner)
    browser.post(at(cast.team, "session-invite", session.pk))
    browser.post(
        at(cast.team, "session-edit", session.pk),
        editing(session, starts_at="2026-03-05T15:30", attendees=[session.attendees.get().pk]),
    )
    last = Letter.objects.order_by("pk").last()
    found = read(last.calendar)
    assert (found.method, found.sequence) == ("REQUEST", 1)
    assert found.starts == datetime(2026, 3, 5, 15, 30, tzinfo=UTC)


def test_before_a_change_or_a_cancellation_it_is_said_who_gets_word(cast, sign_in, session):
    browser = sign_in(cast.owner)
    pages = [at(cast.team, name, session.pk) for name in ("session-edit", "session-cancel")]
    words = "By letter get word of it: Ana Prado."
    assert not any(words in browser.get(page).text for page in pages)
    browser.post(at(cast.team, "session-invite", session.pk))
    assert all(words in browser.get(page).text for page in pages)
    browser.post(pages[1], {"reason": ""})
    assert not any(words in browser.get(page).text for page in pages)


def test_a_page_to_open_that_is_no_link_is_refused_and_kept(cast, sign_in, lead, hour):
    typed = booking(cast, hour, beforehand="javascript:alert(1)")
    page = sign_in(cast.member).post(at(cast.team, "session-book", lead.pk), typed)
    assert page.status_code == 422
    assert "beforehand" in page.context["form"].errors
    assert "javascript:alert(1)" in page.text


def test_an_entry_to_keep_asks_nobody(cast, sign_in, session):
    file = sign_in(cast.reader).get(at(cast.team, "session-entry", session.pk))
    assert file["Content-Type"] == "text/calendar; charset=utf-8"
    found = read(file.content.decode())
    # RFC 5546, 3.2.1: PUBLISH names its organiser, and nobody else
    assert (found.method, found.organizer, found.people) == (
        "PUBLISH",
        "olive@harbour.example",
        frozenset(),
    )
    assert found.starts == session.starts_at


def test_a_session_without_an_hour_has_no_entry(cast, sign_in, lead):
    session = SessionFactory(lead=lead)
    browser = sign_in(cast.member)
    assert browser.get(at(cast.team, "session-entry", session.pk)).status_code == 404
    assert "Calendar entry to keep" not in browser.get(at(cast.team, "session", session.pk)).text
