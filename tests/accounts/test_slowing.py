"""Guessing is slowed, by account and by address, and tells nothing of who has an account."""

import threading
from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from hypothesis import given
from hypothesis import strategies as some

from pipeline.accounts import slowing
from pipeline.accounts.models import Attempts
from pipeline.accounts.slowing import FREE, LONGEST, Slowed, Who, admit, caller, wait_after
from pipeline.clock import moment
from tests.accounts.people import sign_in_with, with_password
from tests.conftest import NOW

UNKNOWN = "nobody@harbour.example"


@pytest.fixture
def mateus(cast):
    return with_password(cast.member.user)


def guess(email: str, times: int, **more) -> list[int]:
    return [sign_in_with(Client(), email, "a guess", **more).status_code for _ in range(times)]


def test_five_guesses_are_judged_then_even_the_right_password_waits(mateus):
    assert guess(mateus.email, 5) == [200] * 5
    slowed = sign_in_with(Client(), mateus.email)
    assert slowed.status_code == 429
    assert slowed["Retry-After"] == "30"
    assert "Too many attempts. Wait 30 seconds, then try again." in slowed.text
    with moment.stopped(NOW + timedelta(seconds=30)):
        assert sign_in_with(Client(), mateus.email).status_code == 302


def test_the_waits_double_up_to_a_quarter_of_an_hour(mateus):
    guess(mateus.email, 5)
    now, waits = NOW, []
    for _ in range(7):
        with moment.stopped(now):
            waits.append(int(sign_in_with(Client(), mateus.email)["Retry-After"]))
        now += timedelta(seconds=waits[-1])
        with moment.stopped(now):
            assert guess(mateus.email, 1) == [200]
    assert waits == [30, 60, 120, 240, 480, 900, 900]
    with moment.stopped(now):
        assert "Wait 15 minutes" in sign_in_with(Client(), mateus.email).text


def test_an_unknown_address_is_slowed_in_the_same_words(mateus):
    pages = []
    for email in (mateus.email, UNKNOWN):
        guess(email, 5)
        page = sign_in_with(Client(), email, "a guess")
        pages.append((page.status_code, page.context["form"].non_field_errors()))
    assert pages[0] == pages[1]


def test_the_case_and_blanks_of_an_address_make_no_other_account(mateus):
    guess(mateus.email, 3)
    guess(f" {mateus.email.upper()} ", 2)
    assert guess(mateus.email, 1) == [429]


def test_signing_in_makes_the_account_forget(mateus):
    for _ in range(3):
        assert guess(mateus.email, 4) == [200] * 4
        assert sign_in_with(Client(), mateus.email).status_code == 302


def test_one_address_that_tries_many_accounts_is_slowed_and_another_not(db):
    many = [guess(f"a{n}@harbour.example", 1)[0] for n in range(FREE["address"] + 1)]
    assert many == [200] * FREE["address"] + [429]
    assert guess("b@harbour.example", 1, REMOTE_ADDR="192.0.2.9") == [200]


def test_a_day_without_guesses_is_a_new_beginning(mateus):
    guess(mateus.email, 5)
    with moment.stopped(NOW + timedelta(days=1, seconds=1)):
        assert guess(mateus.email, 5) == [200] * 5
    assert Attempts.objects.filter(kind="account").get().failures == 5


def test_the_rows_name_nobody(mateus):
    guess(mateus.email, 1)
    kept = " ".join(f"{row.kind} {row.who}" for row in Attempts.objects.all())
    assert "mateus" not in kept
    assert "127.0.0.1" not in kept


def test_a_form_left_empty_counts_for_nobody(db):
    assert sign_in_with(Client(), "", "").status_code == 200
    assert not Attempts.objects.exists()


def test_an_unknown_account_costs_as_many_hashes_as_a_known_one(mateus, cast, monkeypatch):
    """So the time of the answer tells nothing either."""
    from django.contrib.auth import hashers

    made: list[str] = []
    hasher = type(hashers.get_hasher())
    encode = hasher.encode
    monkeypatch.setattr(
        hasher, "encode", lambda *given: made.append("hash") or encode(*given), raising=True
    )
    costs = []
    for email in (mateus.email, UNKNOWN, cast.reader.user.email):
        made.clear()
        guess(email, 1)
        costs.append(len(made))
    # the third is an account that has no password yet
    assert costs == [1, 1, 1]


def test_guesses_at_once_get_no_further_than_one_by_one(transactional_db):
    together, judged = threading.Barrier(8), []

    def attempt() -> None:
        try:
            together.wait()
            admit([Who("account", UNKNOWN)], now=NOW)
            judged.append(True)
        except Slowed:
            pass
        finally:
            connection.close()

    threads = [threading.Thread(target=attempt) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(judged) == FREE["account"]


@pytest.mark.django_db
def test_who_looked_at_the_clock_first_and_comes_second_waits_for_nothing():
    admit([Who("account", UNKNOWN)], now=NOW + timedelta(seconds=1))
    admit([Who("account", UNKNOWN)], now=NOW)
    assert Attempts.objects.get().failures == 2


@given(failures=some.integers(0, 10**6), free=some.integers(1, 20))
def test_a_wait_never_shrinks_and_never_grows_without_end(failures, free):
    assert wait_after(failures, free) <= wait_after(failures + 1, free) <= LONGEST
    assert (wait_after(failures, free) > timedelta()) == (failures >= free)


@pytest.mark.parametrize(
    ("proxies", "told", "found"),
    [
        # nobody is believed, unless so many proxies are known to stand before
        (0, "198.51.100.7", "192.0.2.1"),
        (1, "198.51.100.7", "198.51.100.7"),
        (1, "203.0.113.5, 198.51.100.7", "198.51.100.7"),
        (2, "10.0.0.1, 203.0.113.5, 198.51.100.7", "203.0.113.5"),
        (2, "198.51.100.7", "192.0.2.1"),
        (1, "made up", "unknown"),
        (1, "2001:db8:1:2:3:4:5:6", "2001:db8:1:2::/64"),
        (1, "::ffff:198.51.100.7", "198.51.100.7"),
    ],
)
def test_the_address_is_the_one_that_nobody_could_make_up(rf, settings, proxies, told, found):
    settings.TRUSTED_PROXIES = proxies
    request = rf.get("/", REMOTE_ADDR="192.0.2.1", headers={"X-Forwarded-For": told})
    assert caller(request) == found


def test_a_kind_without_a_number_of_free_attempts_would_be_seen():
    kinds = {"account", "address", "code", "reset", "reset from", "password"}
    kinds |= {"invitation", "team asks"}
    assert set(slowing.FREE) == kinds
    longest = Attempts._meta.get_field("kind").max_length
    assert all(len(kind) <= longest for kind in kinds)
