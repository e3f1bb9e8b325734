"""A forgotten password: a link by letter, the same answer for everybody, good for once."""

from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse

from pipeline.accounts import resetting
from pipeline.clock import moment
from pipeline.mail.models import Letter
from pipeline.teams.models import User
from tests.accounts.people import OTHER, link_in, sign_in_with, with_password
from tests.accounts.people import with_second_factor as armed
from tests.conftest import NOW

NEW = {"new_password1": OTHER, "new_password2": OTHER}


@pytest.fixture(autouse=True)
def pauses(monkeypatch) -> list[float]:
    """Keep how long an answer would have waited."""
    kept: list[float] = []
    monkeypatch.setattr(resetting, "pause", kept.append)
    return kept


@pytest.fixture
def mateus(cast, by_mail):
    return with_password(cast.member.user)


def ask(email: str, client: Client | None = None, **more):
    return (client or Client()).post(reverse("forgotten"), {"email": email}, **more)


def test_the_link_in_the_letter_sets_a_password_once(mateus, client):
    ask(mateus.email.upper())
    letter = Letter.objects.get()
    assert (letter.to, letter.private, letter.team) == (
        mateus.email,
        True,
        mateus.memberships.get().team,
    )
    link = link_in(letter)
    assert client.get(link).status_code == 200
    assert client.post(link, NEW).url == reverse("teams")
    assert client.get(link).status_code == 410
    assert sign_in_with(Client(), mateus.email, OTHER).status_code == 302
    told = Letter.objects.exclude(pk=letter.pk).get()
    assert "a new password was set" in told.text


def test_everybody_gets_the_same_answer_and_in_the_same_time(mateus, cast, pauses):
    closed = cast.reader.user
    closed.is_active = False
    closed.save()
    answers = []
    for email in (mateus.email, "nobody@harbour.example", closed.email, cast.stranger.email):
        browser = Client()
        answer = ask(email, browser, REMOTE_ADDR=f"192.0.2.{len(answers)}")
        words = [str(message) for message in browser.get(answer.url).context["messages"]]
        answers.append((answer.status_code, answer.url, tuple(words)))
    assert len(set(answers)) == 1
    assert len(pauses) == len(answers)
    assert all(0 < pause <= resetting.EVEN for pause in pauses)
    assert [letter.to for letter in Letter.objects.all()] == [mateus.email]


def test_an_answer_lasts_as_long_as_it_should(monkeypatch):
    monkeypatch.undo()
    begun = resetting.time.monotonic()
    with resetting.evenly():
        pass
    assert resetting.time.monotonic() - begun >= resetting.EVEN


def test_the_link_is_over_after_two_hours_and_once_one_has_signed_in(mateus, client):
    ask(mateus.email)
    link = link_in(Letter.objects.get())
    with moment.stopped(NOW + timedelta(hours=2)):
        assert client.get(link).status_code == 410
    assert client.get(link).status_code == 200
    sign_in_with(Client(), mateus.email)
    assert client.get(link).status_code == 410


def test_the_link_does_not_pass_by_the_second_factor(cast, by_mail, client):
    armed(cast.member.user)
    ask(cast.member.user.email)
    link = link_in(Letter.objects.get())
    assert client.post(link, NEW).url == reverse("sign-in")
    assert "_auth_user_id" not in client.session
    answer = sign_in_with(client, cast.member.user.email, OTHER)
    assert answer.url == reverse("sign-in-code")


def test_the_link_signs_out_every_browser_and_ends_the_wait(mateus, client):
    there = Client()
    sign_in_with(there, mateus.email)
    for _ in range(6):
        sign_in_with(Client(), mateus.email, "a guess")
    ask(mateus.email)
    client.post(link_in(Letter.objects.get()), NEW)
    assert there.get(reverse("account")).status_code == 302
    assert sign_in_with(Client(), mateus.email, OTHER).status_code == 302


def test_nobody_is_flooded_with_letters(mateus):
    answers = [ask(mateus.email).status_code for _ in range(4)]
    assert answers == [302, 302, 302, 429]
    unknown = [ask("nobody@harbour.example").status_code for _ in range(4)]
    assert unknown == answers
    assert Letter.objects.count() == 3


@pytest.mark.parametrize("email", ["", "nobody", "a\x00@b.example", "x" * 300 + "@b.example"])
def test_what_is_no_address_is_a_clear_message(by_mail, db, email):
    answer = ask(email)
    assert answer.status_code == 422
    assert answer.context["form"].errors["email"]


def test_without_mail_one_is_told_whom_to_ask(cast, client):
    assert "Ask whoever runs it" in client.get(reverse("forgotten")).text
    assert ask(cast.member.user.email).status_code == 422
    assert not Letter.objects.exists()


def test_whoever_runs_the_installation_can_let_somebody_back_in(cast, client, settings):
    armed(cast.member.user)
    out = StringIO()
    call_command(
        "let_back_in", cast.member.user.email.upper(), without_second_factor=True, stdout=out
    )
    link = out.getvalue().split(settings.BASE_URL)[1].strip()
    assert client.post(link, NEW).url == reverse("teams")
    assert not User.objects.get(pk=cast.member.user.pk).second_factor
    with pytest.raises(CommandError, match="EMAIL: there is no account"):
        call_command("let_back_in", "nobody@harbour.example")


@pytest.mark.parametrize("token", ["x", "a:b", "é", "x" * 3000])
def test_a_made_up_link_is_over_and_no_error(db, client, token):
    assert client.get(reverse("reset", args=[token])).status_code == 410
