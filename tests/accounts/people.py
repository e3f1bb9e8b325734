"""People with a password and a second factor, for tests."""

from __future__ import annotations

import re

from django.urls import reverse

from pipeline.accounts.codes import code_at, new_secret, step_of
from pipeline.accounts.second_factor import set_up
from pipeline.clock import moment
from pipeline.mail.models import Letter
from pipeline.teams.models import User

PASSWORD = "seven quiet harbours"
OTHER = "nine loud quarries"


def with_password(user: User) -> User:
    user.set_password(PASSWORD)
    user.save()
    return user


def with_second_factor(user: User) -> tuple[str, list[str]]:
    """Give a person a second factor, set up a minute ago; return its secret and paper codes."""
    secret, now = new_secret(), moment.now()
    with_password(user)
    step = step_of(now) - 2
    earlier = now.fromtimestamp(step * 30, tz=now.tzinfo)
    return secret, set_up(user=user, secret=secret, typed=code_at(secret, step), now=earlier)


def code_now(secret: str) -> str:
    return code_at(secret, step_of(moment.now()))


def sign_in_with(client, email: str, password: str = PASSWORD, **more):
    return client.post(reverse("sign-in"), {"username": email, "password": password}, **more)


def link_in(letter: Letter) -> str:
    """Return the path of the one link of a letter."""
    (link,) = set(re.findall(r"https?://[^/\s]+(/\S+)", letter.text))
    return link
