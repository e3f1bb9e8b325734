"""The second factor: set up with a first code, asked after the password, each code once."""

from datetime import UTC, datetime, timedelta

import pyotp
import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as some

from pipeline.accounts import codes, second_factor
from pipeline.accounts.models import RecoveryCode, SignIn
from pipeline.clock import moment
from pipeline.teams.models import User
from tests.accounts.people import PASSWORD, code_now, sign_in_with, with_password
from tests.accounts.people import with_second_factor as armed
from tests.conftest import NOW

# RFC 6238, appendix B, for SHA-1: the key "12345678901234567890", and codes of eight digits, whose
# last six are those of six digits (RFC 4226, 5.3: the number modulo 10 to the digits).
KEY = "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ"
PUBLISHED = [
    (59, "94287082"),
    (1111111109, "07081804"),
    (1111111111, "14050471"),
    (1234567890, "89005924"),
    (2000000000, "69279037"),
    (20000000000, "65353130"),
]


@pytest.mark.parametrize(("seconds", "eight"), PUBLISHED)
def test_codes_are_those_published(seconds, eight):
    at = datetime.fromtimestamp(seconds, tz=UTC)
    assert codes.code_at(KEY, codes.step_of(at)) == eight[-6:]
    assert codes.matching_step(KEY, eight[-6:], now=at) == seconds // 30


@given(away=some.integers(-5, 5), seconds=some.integers(10**9, 4 * 10**9))
def test_a_code_counts_one_step_early_or_late_and_no_more(away, seconds):
    now = datetime.fromtimestamp(seconds, tz=UTC)
    step = codes.step_of(now) + away
    near = {codes.code_at(KEY, codes.step_of(now) + by) for by in (-1, 0, 1)}
    code = codes.code_at(KEY, step)
    assert (codes.matching_step(KEY, code, now=now) is not None) == (code in near)


def test_the_secret_lies_locked_in_the_database(cast):
    secret, _ = armed(cast.member.user)
    stored = User.objects.get(pk=cast.member.user.pk).second_factor
    assert secret not in stored
    assert codes.unlock(stored) == secret


def test_with_another_key_of_the_installation_the_secret_stays_locked(cast, settings):
    armed(cast.member.user)
    settings.SECRET_KEY, before = "another key of more than thirty characters", settings.SECRET_KEY
    assert codes.unlock(cast.member.user.second_factor) is None
    assert not second_factor.is_right(cast.member.user, "123456", now=NOW)
    settings.SECRET_KEY_FALLBACKS = [before]
    assert codes.unlock(cast.member.user.second_factor)


def page_secret(page) -> str:
    return str(pyotp.parse_uri(page.context["address"]).secret)


def set_up(browser, *, code: str | None = None, password: str = PASSWORD):
    page = browser.get(reverse("second-factor"))
    typed = {"sealed": page.context["form"].initial["sealed"], "password": password}
    typed["code"] = code or code_now(page_secret(page))
    return browser.post(reverse("second-factor"), typed)


def test_it_is_set_up_with_its_first_code_and_gives_ten_codes_once(cast, sign_in):
    user = with_password(cast.member.user)
    browser, elsewhere = sign_in(user), sign_in(user)
    key = browser.session.session_key
    done = set_up(browser)
    assert done.status_code == 200
    papers = done.context["codes"]
    assert len(set(papers)) == 10
    assert all(code in done.text for code in papers)
    user.refresh_from_db()
    assert user.second_factor_since == NOW
    # under another key here, and signed out elsewhere, where no code was asked
    assert browser.session.session_key != key
    assert browser.get(reverse("account")).status_code == 200
    assert elsewhere.get(reverse("account")).status_code == 302
    assert not any(code in browser.get(reverse("account")).text for code in papers)
    stored = " ".join(RecoveryCode.objects.values_list("digest", flat=True))
    assert not any(codes.bare(code) in stored for code in papers)


def test_a_wrong_code_or_password_keeps_the_same_picture(cast, sign_in):
    browser = sign_in(with_password(cast.member.user))
    page = browser.get(reverse("second-factor"))
    secret, sealed = page_secret(page), page.context["form"].initial["sealed"]
    for typed in ({"code": "000000x", "password": PASSWORD}, {"code": code_now(secret)}):
        again = browser.post(reverse("second-factor"), {"sealed": sealed, **typed})
        assert again.status_code == 422
        assert page_secret(again) == secret
    assert not User.objects.get(pk=cast.member.user.pk).second_factor


def test_a_picture_of_somebody_else_or_of_yesterday_is_not_taken(cast, sign_in):
    browser = sign_in(with_password(cast.member.user))
    page = browser.get(reverse("second-factor"))
    typed = {"sealed": page.context["form"].initial["sealed"], "password": PASSWORD}
    other = sign_in(with_password(cast.owner.user))
    secret = page_secret(page)
    answer = other.post(reverse("second-factor"), {**typed, "code": code_now(secret)}, follow=True)
    assert "too old" in answer.text
    with moment.stopped(NOW + timedelta(hours=2)):
        late = browser.post(reverse("second-factor"), {**typed, "code": code_now(secret)})
    assert late.status_code == 422
    assert page_secret(late) != secret
    assert not User.objects.exclude(second_factor="").exists()


def test_after_the_password_the_code_is_asked_and_only_then_is_one_in(cast, client):
    secret, _ = armed(cast.member.user)
    wanted = reverse("team", args=["harbour"])
    first = client.post(
        reverse("sign-in"),
        {"username": cast.member.user.email, "password": PASSWORD, "next": wanted},
    )
    assert first.url == reverse("sign-in-code")
    assert client.get(wanted).status_code == 302
    key = client.session.session_key
    assert client.post(first.url, {"code": code_now(secret)}).url == wanted
    assert client.get(wanted).status_code == 200
    assert client.session.session_key != key


def test_a_code_that_was_used_is_refused_within_its_own_minute(cast, client):
    secret, _ = armed(cast.member.user)
    typed = {"code": code_now(secret)}
    sign_in_with(client, cast.member.user.email)
    assert client.post(reverse("sign-in-code"), typed).status_code == 302
    second = Client()
    sign_in_with(second, cast.member.user.email)
    assert second.post(reverse("sign-in-code"), typed).status_code == 422
    with moment.stopped(NOW + timedelta(seconds=30)):
        fresh = {"code": code_now(secret)}
        assert second.post(reverse("sign-in-code"), fresh).status_code == 302


def test_the_first_code_does_not_sign_in_as_well(cast, sign_in, client):
    browser = sign_in(with_password(cast.member.user))
    page = browser.get(reverse("second-factor"))
    secret = page_secret(page)
    set_up_with = {"sealed": page.context["form"].initial["sealed"], "password": PASSWORD}
    browser.post(reverse("second-factor"), {**set_up_with, "code": code_now(secret)})
    sign_in_with(client, cast.member.user.email)
    again = client.post(reverse("sign-in-code"), {"code": code_now(secret)})
    assert again.status_code == 422


def test_a_recovery_code_lets_in_once_however_it_is_typed(cast):
    _, papers = armed(cast.member.user)
    for typed, status in ((papers[0].upper().replace("-", " "), 302), (papers[0], 422)):
        browser = Client()
        sign_in_with(browser, cast.member.user.email)
        assert browser.post(reverse("sign-in-code"), {"code": typed}).status_code == status


@pytest.mark.parametrize(
    "typed", ["", "12345", "１２３４５６", "\x00", "-" * 61, "é" * 24, "' or 1"]
)
def test_nonsense_for_a_code_is_a_clear_message(cast, client, typed):
    armed(cast.member.user)
    sign_in_with(client, cast.member.user.email)
    answer = client.post(reverse("sign-in-code"), {"code": typed})
    assert answer.status_code == 422
    assert answer.context["form"].errors["code"]


def test_after_five_wrong_codes_one_waits_even_with_the_right_one(cast, client):
    secret, _ = armed(cast.member.user)
    sign_in_with(client, cast.member.user.email)
    for _ in range(5):
        assert client.post(reverse("sign-in-code"), {"code": "no"}).status_code == 422
    slowed = client.post(reverse("sign-in-code"), {"code": code_now(secret)})
    assert slowed.status_code == 429
    assert int(slowed["Retry-After"]) == 30
    with moment.stopped(NOW + timedelta(seconds=30)):
        right = {"code": code_now(secret)}
        assert client.post(reverse("sign-in-code"), right).status_code == 302


def test_the_password_counts_for_five_minutes_and_while_it_holds(cast, client):
    secret, _ = armed(cast.member.user)
    sign_in_with(client, cast.member.user.email)
    with moment.stopped(NOW + timedelta(minutes=5)):
        answer = client.post(reverse("sign-in-code"), {"code": code_now(secret)})
        assert answer.url == reverse("sign-in")
    cast.member.user.set_password("another one by now")
    cast.member.user.save()
    answer = client.post(reverse("sign-in-code"), {"code": code_now(secret)})
    assert answer.url == reverse("sign-in")
    assert "_auth_user_id" not in client.session


def test_a_key_that_was_planted_is_not_let_in_by_the_password_of_another(cast, client):
    """Somebody waits for their own code, and gives their cookie to who has none yet."""
    armed(cast.member.user)
    secret, _ = armed(cast.owner.user)
    sign_in_with(client, cast.owner.user.email)
    planted, victim = client.session.session_key, Client()
    victim.cookies[settings.SESSION_COOKIE_NAME] = planted
    sign_in_with(victim, cast.member.user.email)
    assert victim.session.session_key != planted
    assert client.post(reverse("sign-in-code"), {"code": code_now(secret)}).status_code == 302
    assert client.session.get("_auth_user_id") in (None, str(cast.owner.user.pk))


def test_a_code_without_a_password_before_it_leads_to_signing_in(cast, client):
    secret, _ = armed(cast.member.user)
    answer = client.post(reverse("sign-in-code"), {"code": code_now(secret)})
    assert answer.url == reverse("sign-in")
    assert not SignIn.objects.filter(user=cast.member.user).exists()


def test_new_recovery_codes_end_the_old_ones(cast, sign_in):
    _, old = armed(cast.member.user)
    browser = sign_in(cast.member)
    assert browser.post(reverse("second-factor-codes"), {"password": "no"}).status_code == 422
    new = browser.post(reverse("second-factor-codes"), {"password": PASSWORD}).context["codes"]
    user = User.objects.get(pk=cast.member.user.pk)
    assert not second_factor.is_right(user, old[0], now=NOW)
    assert second_factor.is_right(user, new[0], now=NOW)


def test_it_is_taken_off_by_whoever_knows_the_password(cast, sign_in, client):
    armed(cast.member.user)
    browser = sign_in(cast.member)
    assert browser.post(reverse("second-factor-off"), {"password": "no"}).status_code == 422
    assert browser.post(reverse("second-factor-off"), {"password": PASSWORD}).status_code == 302
    assert not User.objects.get(pk=cast.member.user.pk).second_factor
    assert not RecoveryCode.objects.exists()
    assert sign_in_with(client, cast.member.user.email).url == reverse("teams")
