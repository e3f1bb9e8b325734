"""Where people are signed in: each browser ends by itself, and can be ended from another."""

from datetime import timedelta

import pytest
from django.conf import settings as configured
from django.test import Client
from django.urls import reverse

from pipeline.accounts.browsers import EVERY, in_words
from pipeline.accounts.models import SignIn
from pipeline.clock import moment
from tests.accounts.people import OTHER, PASSWORD, sign_in_with, with_password
from tests.conftest import NOW

IDLE = timedelta(seconds=configured.SESSION_IDLE)
LONGEST = timedelta(seconds=configured.SESSION_COOKIE_AGE)
FIREFOX = "Mozilla/5.0 (X11; Linux x86_64; rv:140.0) Gecko/20100101 Firefox/140.0"


@pytest.fixture
def mateus(cast):
    return with_password(cast.member.user)


def is_in(browser: Client) -> bool:
    return browser.get(reverse("account")).status_code == 200


def test_signing_in_makes_a_new_key(mateus, client):
    # a key that somebody else may have planted
    client.cookies[configured.SESSION_COOKIE_NAME] = "planted" * 4
    sign_in_with(client, mateus.email)
    first = client.session.session_key
    assert first != "planted" * 4
    client.post(reverse("sign-out"))
    assert not SignIn.objects.filter(session_key=first).exists()
    sign_in_with(client, mateus.email)
    assert client.session.session_key != first


@pytest.mark.parametrize("key", ['"\\000aaaaaaaaaaaa"', "é" * 32, "a" * 4000, "A" * 32, "", "x"])
def test_whatever_stands_in_the_cookie_is_no_error(client, db, key):
    client.cookies.load(f"{configured.SESSION_COOKIE_NAME}={key}")
    assert client.get(reverse("account")).status_code == 302


def test_a_browser_that_is_not_used_is_signed_out(mateus, client):
    sign_in_with(client, mateus.email)
    with moment.stopped(NOW + IDLE - timedelta(seconds=1)):
        assert is_in(client)
    with moment.stopped(NOW + 2 * IDLE - timedelta(seconds=1)):
        assert not is_in(client)


def test_a_browser_in_daily_use_is_signed_out_after_thirty_days_all_the_same(mateus, client):
    sign_in_with(client, mateus.email)
    days = 0
    with moment.stopped(NOW):
        while is_in(client):
            days += 1
            moment._stopped[-1] = NOW + timedelta(days=days)
    assert timedelta(days=days) == LONGEST


def test_when_a_browser_was_seen_is_kept_seldom(mateus, client):
    sign_in_with(client, mateus.email)
    for later, kept in ((EVERY - timedelta(seconds=1), NOW), (EVERY, NOW + EVERY)):
        with moment.stopped(NOW + later):
            client.get(reverse("teams"))
        assert SignIn.objects.get(user=mateus).seen_at == kept


def test_whoever_is_not_signed_in_leaves_no_row(client, db):
    client.get(reverse("sign-in"))
    client.get(reverse("forgotten"))
    assert not SignIn.objects.exists()


def test_the_account_lists_where_one_is_signed_in_and_shows_no_key(mateus, client):
    sign_in_with(client, mateus.email, headers={"User-Agent": FIREFOX})
    other = Client()
    sign_in_with(other, mateus.email, headers={"User-Agent": "<script>"})
    page = client.get(reverse("account"))
    assert [(place.words, place.here) for place in page.context["places"]] == [
        ("Firefox on Linux", True),
        ("A browser on an unknown system", False),
    ]
    for row in SignIn.objects.all():
        assert row.session_key not in page.text


def test_all_others_are_signed_out_at_a_press(mateus, cast, client):
    browsers = [Client() for _ in range(3)]
    stranger = Client()
    stranger.force_login(cast.owner.user)
    for browser in browsers:
        sign_in_with(browser, mateus.email)
    page = browsers[0].post(reverse("account-end-elsewhere"), follow=True)
    assert "2 other browsers were signed out." in page.text
    assert [is_in(browser) for browser in (*browsers, stranger)] == [True, False, False, True]
    page = browsers[0].post(reverse("account-end-elsewhere"), follow=True)
    assert "No other browser was signed in." in page.text


def test_another_password_signs_out_every_other_browser(mateus):
    here, there = Client(), Client()
    for browser in (here, there):
        sign_in_with(browser, mateus.email)
    key = here.session.session_key
    typed = {"password": PASSWORD, "new_password1": OTHER, "new_password2": OTHER}
    assert here.post(reverse("account-password"), typed).status_code == 302
    assert (is_in(here), is_in(there)) == (True, False)
    assert here.session.session_key != key
    assert SignIn.objects.filter(user=mateus).count() == 1


def test_what_has_ended_is_cleared_away_by_the_next_who_signs_in(mateus, client):
    sign_in_with(client, mateus.email)
    with moment.stopped(NOW + IDLE):
        sign_in_with(Client(), mateus.email)
    assert SignIn.objects.count() == 1


def test_the_cookie_is_for_this_host_alone_and_no_script_reads_it(mateus, client):
    sign_in_with(client, mateus.email)
    cookie = client.cookies[configured.SESSION_COOKIE_NAME]
    assert cookie["httponly"]
    assert (cookie["samesite"], cookie["path"], cookie["domain"]) == ("Lax", "/", "")


@pytest.mark.parametrize(
    ("agent", "words"),
    [
        ("", "A browser on an unknown system"),
        (FIREFOX, "Firefox on Linux"),
        (
            "Mozilla/5.0 (iPhone; CPU iPhone OS 18_0 like Mac OS X) Safari/604.1",
            "Safari on an iPhone",
        ),
        ("Mozilla/5.0 (Linux; Android 15) Chrome/140.0 Mobile Safari/537.36", "Chrome on Android"),
        ("Mozilla/5.0 (Windows NT 10.0) Chrome/140.0 Safari/537.36 Edg/140.0", "Edge on Windows"),
    ],
)
def test_a_browser_is_named_in_two_words(agent, words):
    assert in_words(agent) == words
