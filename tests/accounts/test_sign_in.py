"""Signing in: any case of the address, no telling who has an account, no way off the site."""

import pytest
from django.test import Client
from django.urls import reverse

from pipeline.teams.models import User

PASSWORD = "seven quiet harbours"


@pytest.fixture
def mateus(cast):
    cast.member.user.set_password(PASSWORD)
    cast.member.user.save()
    return cast.member.user


def sign_in(client: Client, email: str, password: str = PASSWORD, **more: str):
    return client.post(
        reverse("sign-in"), {"username": email, "password": password, **more}, follow=False
    )


@pytest.mark.parametrize(
    "typed", ["mateus@harbour.example", "Mateus@Harbour.Example", "  MATEUS@HARBOUR.EXAMPLE "]
)
def test_the_address_may_be_typed_in_any_case(client, mateus, typed):
    assert sign_in(client, typed).status_code == 302
    assert client.session["_auth_user_id"] == str(mateus.pk)


def test_a_wrong_password_and_an_unknown_address_are_answered_alike(client, mateus):
    def answer(email: str) -> str:
        said = sign_in(client, email, "wrong password")
        page = said.content.decode().replace(email, "ADDRESS")
        token = said.context["csrf_token"]
        return page.replace(str(token), "TOKEN")

    assert answer("mateus@harbour.example") == answer("nobody@harbour.example")


def test_an_account_that_was_closed_is_answered_like_none(client, mateus):
    open_answer = sign_in(client, "nobody@harbour.example").context["form"].errors
    mateus.is_active = False
    mateus.save()
    closed = sign_in(client, mateus.email)
    assert closed.status_code == 200
    assert closed.context["form"].errors == open_answer


def test_an_account_without_a_password_opens_by_no_password(client, cast):
    for guess in ("", "!", cast.owner.user.password):
        assert sign_in(client, cast.owner.user.email, guess).status_code == 200
    assert "_auth_user_id" not in client.session


def test_who_asked_for_a_page_gets_to_it_after_signing_in(client, mateus):
    wanted = reverse("team", args=["harbour"]) + "?a=1"
    asked = client.get(wanted)
    assert asked.status_code == 302
    page = client.get(asked.url)
    assert page.context["next"] == wanted
    assert sign_in(client, mateus.email, next=page.context["next"]).url == wanted


@pytest.mark.parametrize(
    "away",
    [
        "https://elsewhere.example/",
        "//elsewhere.example/",
        "/\\elsewhere.example/",
        "javascript:alert(1)",
        "http:elsewhere.example",
    ],
)
def test_nobody_is_sent_to_another_site_by_signing_in(client, mateus, away):
    assert sign_in(client, mateus.email, next=away).url == reverse("teams")


def test_signing_out_takes_a_post(client, mateus):
    sign_in(client, mateus.email)
    assert client.get(reverse("sign-out")).status_code == 405
    assert "_auth_user_id" in client.session
    assert client.post(reverse("sign-out")).url == reverse("sign-in")
    assert "_auth_user_id" not in client.session


def test_two_addresses_that_differ_in_case_are_one_account(cast):
    from django.db import IntegrityError, transaction

    with pytest.raises(IntegrityError), transaction.atomic():
        User.objects.create_user("Mateus@harbour.example")


def test_a_form_without_its_token_says_what_to_do(mateus):
    strict = Client(enforce_csrf_checks=True)
    answer = sign_in(strict, mateus.email)
    assert answer.status_code == 403
    assert "This form is too old, or cookies are off" in answer.content.decode()
