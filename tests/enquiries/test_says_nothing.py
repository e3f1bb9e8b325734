"""Whoever enquires learns nothing: not who is known, not which teams are there."""

import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from pipeline.clock import moment
from pipeline.enquiries.models import EnquiryPage
from pipeline.leads.models import Lead
from pipeline.mail.models import Letter, StoppedAddress, digest_of
from pipeline.teams.models import Submission
from tests.conftest import NOW
from tests.enquiries.pages import AT, TYPED, enquire, later, open_page, read
from tests.factories import ContactFactory, LeadFactory, SourceFactory

pytestmark = pytest.mark.django_db


def sent(browser):
    """Send an enquiry; return all that can be told from outside, and what the database was asked.

    Of a statement only its form: not the keys and words in it.
    """
    filled = read(browser)
    with later():
        with CaptureQueriesContext(connection) as caught:
            answer = browser.post(AT, filled)
        asked = [re.sub(r"'[^']*'|\d+|NULL", "?", query["sql"]) for query in caught]
        ours = {"Expires", "X-Request-ID"}
        headers = {name: value for name, value in answer.headers.items() if name not in ours}
        return answer.status_code, headers, answer.content, browser.get(answer.url).text, asked


def test_the_answer_to_who_is_known_is_the_same_down_to_the_queries(page, browser, cast):
    SourceFactory(team=cast.team, name="enquiry form")
    unknown = sent(browser)
    assert len(unknown[-1]) > 10

    Lead.objects.all().delete()
    old = LeadFactory(team=cast.team, organisation=TYPED["organisation"])
    ContactFactory(lead=old, name=TYPED["name"], email=TYPED["email"])
    stopped = {"address": digest_of(TYPED["email"]), "stopped_at": NOW}
    StoppedAddress.objects.create(team=cast.team, **stopped)
    assert sent(browser) == unknown
    assert Lead.objects.count() == 2


@pytest.mark.parametrize("state", ["unknown", "never opened", "closed"])
@pytest.mark.parametrize("under", ["", "sent/"])
def test_a_team_that_is_not_there_and_a_closed_page_look_alike(cast, browser, state, under):
    nowhere = browser.get(f"/enquire/no-such-team/{under}")
    if state == "closed":
        open_page(cast.team, is_open=False, introduction="Hello")
    slug = "no-such-team-either" if state == "unknown" else "harbour"
    answer = browser.get(f"/enquire/{slug}/{under}")
    assert answer.status_code == nowhere.status_code == 404
    assert answer.content == nowhere.content
    if not under:
        assert browser.post(f"/enquire/{slug}/", TYPED).status_code == 404


def test_nothing_goes_to_the_address_that_was_given(page, browser):
    enquire(browser)
    assert not Letter.objects.filter(to=TYPED["email"]).exists()


def test_no_cookie_is_set_and_none_is_needed(page, browser):
    answer = enquire(browser)
    browser.get(answer.url)
    assert answer.status_code == 302
    assert not browser.cookies


def test_opening_the_page_writes_nothing(page, browser):
    with CaptureQueriesContext(connection) as caught:
        browser.get(AT)
        browser.head(AT)
        browser.get(f"{AT}sent/")
    assert len(caught) > 0
    assert all(query["sql"].startswith("SELECT") for query in caught)
    assert not Submission.objects.exists()


def test_other_methods_are_refused(page, client):
    for method in ("put", "patch", "delete", "options"):
        assert getattr(client, method)(AT).status_code == 405
        assert getattr(client, method)(f"{AT}sent/").status_code == 405
    assert client.post(f"{AT}sent/").status_code == 405


def test_the_page_is_kept_by_no_cache_and_loads_nothing_of_others(page, browser):
    answer = browser.get(AT)
    assert "no-store" in answer.headers["Cache-Control"]
    assert "default-src 'self'" in answer.headers["Content-Security-Policy"]
    assert "<style" not in answer.text
    assert " style=" not in answer.text


def test_who_had_the_page_open_when_it_was_closed_is_told_and_keeps_what_they_typed(page, browser):
    filled = read(browser)
    EnquiryPage.objects.update(is_open=False)
    with later():
        answer = browser.post(AT, filled)
        assert answer.status_code == 422
        assert "Harbour Studio closed this page" in answer.text
        assert TYPED["about"] in answer.text
    with moment.stopped(NOW), later(hours=25):
        assert browser.post(AT, filled).status_code == 404
    assert not Lead.objects.exists()


def test_a_member_of_the_team_may_use_it_like_anybody(page, cast, sign_in):
    assert enquire(sign_in(cast.member)).status_code == 302
