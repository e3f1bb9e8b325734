"""What holds of every letter that the app writes, whoever gets it."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta
from email import message_from_bytes
from email.policy import default
from html.parser import HTMLParser

import pytest
from django.apps import apps
from django.core.serializers import serialize
from django.test import Client

from pipeline.enquiries.models import EnquiryPage
from pipeline.enquiries.receiving import receive
from pipeline.followups import lead_letters
from pipeline.followups.sweep import sweep
from pipeline.leads.recording import record_decision, record_funding
from pipeline.mail.message import message_of
from pipeline.mail.models import Letter, Stops
from sessions.booking import book
from sessions.calendars.inviting import invite
from sessions.calendars.offering import send_offer
from sessions.models import Part
from sessions.takeaways.sending import send as send_takeaway
from tests.conftest import NOW, TODAY
from tests.factories import (
    ContactFactory,
    DecisionFactory,
    FollowUpFactory,
    FormatFactory,
    LeadFactory,
    OfferFactory,
    SessionFactory,
)

pytestmark = pytest.mark.django_db

BASE = "https://desk.example"
KINDS = {
    "digest",
    "review",
    "reminders",
    "notes",
    "session",
    "offer",
    "takeaway",
    "lead letter",
}


class Reading(HTMLParser):
    """The words and the links of a letter's HTML, and what it would fetch from elsewhere."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.words, self.links, self.fetched, self._hidden = [], [], [], False
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        self._hidden = tag in ("style", "title")
        if tag == "a":
            self.links.append(given["href"])
        self.fetched += [given[name] for name in ("src", "background") if name in given]
        self.fetched += [tag] if tag in ("img", "link", "script", "iframe", "form") else []

    def handle_endtag(self, tag):
        self._hidden = False

    def handle_data(self, data):
        if not self._hidden:
            self.words += data.split()


@pytest.fixture
def letters(cast, settings):
    """Have the app write a letter of every kind."""
    settings.BASE_URL = BASE
    lead = LeadFactory(team=cast.team, organisation="Tide & Co <sons>", owner=cast.member)
    contact = ContactFactory(lead=lead, name="Ida Brun", email="ida@tide.example")
    hour = FormatFactory(team=cast.team, name="An hour")
    held = SessionFactory(lead=lead, format=hour, day=date(2026, 2, 24), state="held")
    DecisionFactory(lead=lead, day=date(2026, 2, 25))
    FollowUpFactory(
        lead=LeadFactory(team=cast.team), action="Ask <them>", due_on=date(2026, 2, 26)
    )
    session = book(
        lead=lead,
        member=cast.owner,
        now=NOW,
        format=hour,
        starts_at=datetime(2026, 3, 4, 8, tzinfo=UTC),
        minutes=60,
        crew={Part.FACILITATOR: [cast.owner], Part.NOTE_TAKER: [cast.member]},
        place="Quay 3",
        attendees=[contact],
    )
    invite(session=session, member=cast.member, now=NOW)
    send_offer(
        offer=OfferFactory(lead=lead, format=hour, contact=contact), member=cast.member, now=NOW
    )
    send_takeaway(
        session=held,
        member=cast.member,
        now=NOW,
        to=[contact.email],
        subject="Your takeaway",
        words="here it is.",
        document=Paper(),
        seen=0,
    )
    draft = lead_letters.draft(
        lead=lead, member=cast.member, now=NOW, contact=contact, subject="How is it?", text="Good."
    )
    lead_letters.send(
        letter=draft, member=cast.member, now=NOW, expected_version=draft.version, done=False
    )
    receive(
        page=EnquiryPage.objects.create(team=cast.team, is_open=True),
        network="",
        now=NOW,
        organisation="TIDE & CO <sons>",
        name="Ida <Brun>",
        email=contact.email,
        about="Two <floors>.\nOne lift.",
        agreed_to="You may <write>.",
    )
    record_funding(lead=lead, member=cast.owner, now=NOW, arrived_on=TODAY)
    record_decision(lead=lead, member=cast.owner, now=NOW, kind="engaged", day=TODAY)
    sweep(NOW)
    return list(Letter.objects.select_related("team", "member__user", "by__user"))


class Paper:
    pdf = b"%PDF-1.4"


def kind_of(letter):
    return letter.key.partition("|")[0]


def of_members(letters):
    return [letter for letter in letters if letter.stops not in ("", Stops.LETTERS)]


def links_of(letter):
    """Return every address in a letter: those of the text, of the HTML, and of its headers."""
    found = set(re.findall(r"https?://[^\s>]+", letter.text))
    found |= set(Reading(letter.html).links)
    return found | set(re.findall(r"<(https?:[^>]+)>", read(letter)["List-Unsubscribe"] or ""))


def read(letter):
    return message_from_bytes(message_of(letter).as_bytes(), policy=default)


def rows():
    """Return what every table holds, but for who is signed in."""
    return {
        model._meta.label: serialize("json", model._base_manager.order_by("pk"))
        for model in apps.get_models()
        if model._meta.label_lower != "accounts.signin"
    }


def test_these_are_all_the_kinds(letters):
    assert {kind_of(letter) for letter in letters} == KINDS
    assert {letter.stops for letter in letters} == {"", *Stops.values}


def test_a_machine_that_follows_every_link_changes_no_row(letters, cast, sign_in):
    browsers = [Client(), sign_in(cast.member), sign_in(cast.owner)]
    before = rows()
    followed = 0
    for letter in letters:
        for link in links_of(letter):
            path = link.removeprefix(BASE)
            for browser in browsers:
                for ask in (browser.get, browser.head):
                    answer = ask(path)
                    assert answer.status_code in (200, 302), path
                    followed += 1
    assert followed > 20
    assert rows() == before


def test_a_change_would_be_seen(letters):
    before = rows()
    stop = next(link for link in links_of(of_members(letters)[0]) if "/stop/" in link)
    Client().post(stop.removeprefix(BASE), {"stop": ""})
    assert rows() != before


def test_every_link_is_whole_and_leads_here(letters):
    for letter in letters:
        for link in links_of(letter):
            assert link.startswith(f"{BASE}/"), link


def test_nothing_is_fetched_from_elsewhere_and_nothing_is_left_of_a_template(letters):
    for letter in letters:
        assert Reading(letter.html).fetched == []
        for text in (letter.text, letter.html):
            assert "{{" not in text
            assert "{%" not in text
            assert "None" not in text.replace("None: ", "")


def test_the_words_of_the_text_are_those_of_the_html(letters):
    """But for the addresses, which the HTML has in its links, and how headings are written."""

    def plain(words):
        told = [word for word in words if not word.startswith("http") and word not in "-·"]
        return sorted(" ".join(told).casefold().replace(":", " ").replace(".", " ").split())

    for letter in of_members(letters):
        assert plain(letter.text.split()) == plain(Reading(letter.html).words), letter.key
        text = set(re.findall(r"https?://\S+", letter.text))
        assert text == set(Reading(letter.html).links), letter.key


def test_each_letter_to_a_member_says_why_it_comes_and_how_to_stop_it(letters):
    told = of_members(letters)
    assert {letter.stops for letter in told} == set(Stops.values) - {Stops.LETTERS}
    for letter in told:
        stops = Stops(letter.stops).label
        assert f"as a member of Harbour Studio who wants {stops}." in letter.text
        assert f"Stop {stops}: {BASE}/stop/" in letter.text
        assert letter.member is not None
        assert letter.by is None


def test_each_letter_has_the_headers_that_its_kind_needs(letters):
    """RFC 2369, 3.2; RFC 8058, 3.1; RFC 3834, 5; RFC 5322, 3.6.4."""
    names = []
    for letter in letters:
        found = read(letter)
        names.append(found["Message-ID"])
        assert re.fullmatch(r"<[^<>\s]+@desk\.example>", found["Message-ID"])
        assert found["Auto-Submitted"] == (None if letter.by else "auto-generated")
        if letter.stops:
            assert re.fullmatch(rf"<{BASE}/stop/[^<>\s]+/>", found["List-Unsubscribe"])
            assert found["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"
        else:
            assert found["List-Unsubscribe"] is None
        again = message_of(Letter.objects.get(pk=letter.pk)).as_bytes()
        assert again == message_of(letter).as_bytes()
    assert len(set(names)) == len(letters)


def test_of_all_that_was_swept_again_nothing_is_written_twice(letters):
    sweep(NOW)
    sweep(NOW + timedelta(hours=3))
    assert Letter.objects.count() == len(letters)
