"""A sign-in link opens once, for three days, and opening it changes nothing by itself."""

from datetime import datetime, timedelta

import pytest
from django.contrib.auth.tokens import PasswordResetTokenGenerator
from django.urls import reverse

from pipeline.accounts.links import sign_in_link, user_of_link

NEW = {"new_password1": "seven quiet harbours", "new_password2": "seven quiet harbours"}


@pytest.fixture
def path(cast, settings):
    return sign_in_link(cast.owner.user).removeprefix(settings.BASE_URL)


def test_the_link_sets_a_password_and_signs_in_once(client, cast, path):
    assert "olive@harbour.example" in client.get(path).content.decode()
    assert client.post(path, NEW).url == reverse("teams")
    assert client.session["_auth_user_id"] == str(cast.owner.user.pk)
    cast.owner.user.refresh_from_db()
    assert cast.owner.user.check_password(NEW["new_password1"])
    again = client.get(path)
    assert again.status_code == 410
    assert "This link is over" in again.content.decode()


def test_opening_the_page_leaves_the_link_as_it_was(client, cast, path):
    for _ in range(3):
        assert client.get(path).status_code == 200
    assert "_auth_user_id" not in client.session


def test_a_weak_password_is_refused_in_words_and_the_link_stays(client, path):
    weak = {"new_password1": "short", "new_password2": "short"}
    answer = client.post(path, weak)
    assert answer.status_code == 200
    assert "at least 10 characters" in " ".join(answer.context["form"].errors["new_password2"])
    assert client.post(path, NEW).status_code == 302


def test_the_link_is_over_after_three_days(cast, path, monkeypatch):
    uid, token = path.strip("/").split("/")[1:]
    assert user_of_link(uid, token) == cast.owner.user
    # Django's own clock for tokens, moved on.
    later = datetime.now() + timedelta(days=3, seconds=1)  # noqa: DTZ005
    monkeypatch.setattr(PasswordResetTokenGenerator, "_now", lambda self: later)
    assert user_of_link(uid, token) is None


@pytest.mark.parametrize("uid", ["", "AA", "!!", "MTIzNDU2Nzg5MDEyMzQ1Njc4OTA", "LTE", "é"])
def test_a_made_up_link_is_over_and_no_error(client, cast, path, uid):
    token = path.strip("/").split("/")[-1]
    assert user_of_link(uid, token) is None
    assert user_of_link(uid, "x" * 500) is None


def test_a_link_of_a_closed_account_is_over(client, cast, path):
    cast.owner.user.is_active = False
    cast.owner.user.save()
    assert client.get(path).status_code == 410
