"""A forgotten password: a link by letter, that nobody learns anything from."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from threading import Event

from django.conf import settings
from django.db import transaction
from django.urls import reverse

from pipeline.teams.models import User

from .letters import write_reset
from .tokens import person_of, print_of, seal, unseal

KIND = "reset"
LASTS = timedelta(hours=2)
# So many seconds an answer takes at least, whether or not a letter is written meanwhile.
EVEN = 0.3


@contextmanager
def evenly() -> Iterator[None]:
    """Let the block last ``EVEN`` seconds, or longer where the machine is busy."""
    begun = time.monotonic()
    try:
        yield
    finally:
        pause(EVEN - (time.monotonic() - begun))


def pause(seconds: float) -> None:
    """Wait."""
    Event().wait(max(0.0, seconds))


@transaction.atomic
def send_reset(email: str, *, now: datetime) -> None:
    """Write a link to the person with this address, if there is one."""
    user = User.objects.filter(email__iexact=email.strip(), is_active=True).first()
    if user is not None:
        write_reset(user, reset_link(user, now=now), now=now)


def reset_link(user: User, *, now: datetime) -> str:
    """Return the full address at which a new password is set, once, within two hours."""
    token = seal(KIND, {"user": user.pk, "print": print_of(user)}, until=now + LASTS)
    return settings.BASE_URL + reverse("reset", args=[token])


def person_of_reset(token: str, *, now: datetime) -> User | None:
    """Return whose password the link sets; ``None`` for one that is used, over or made up."""
    return person_of(unseal(KIND, token, now=now))
