"""What people change in their own account."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.urls import reverse

from pipeline.mail.outbox import goes_out
from pipeline.teams.models import User
from pipeline.teams.refused import Refused

from .letters import tell, write_new_address
from .tokens import person_of, print_of, seal, unseal

KIND = "address"
LASTS = timedelta(days=1)


def rename(*, user: User, was: str, name: str) -> None:
    """Give a person another name, unless somebody else did so meanwhile."""
    name = name.strip()
    rows = User.objects.filter(pk=user.pk, name__in=[was, name])
    if not rows.update(name=name):
        stored = User.objects.values_list("name", flat=True).get(pk=user.pk)
        raise Refused(f"Meanwhile it was changed to “{stored}”. Save again to have yours.", "name")


@transaction.atomic
def ask_for_address(*, user: User, email: str, now: datetime) -> bool:
    """Ask at the new address whether it is the person's; returns whether it holds already.

    Where no letters go out it holds at once: then it is but the name for signing in.
    """
    email = User.objects.normalize_email(email).strip()
    if email == user.email:
        raise Refused("That is your address already.", "email")
    if not goes_out():
        _take(user, email)
        return True
    # Whether the address is another account's is told to nobody: that letter's link is then over.
    said = {"user": user.pk, "print": print_of(user), "email": email}
    token = seal(KIND, said, until=now + LASTS)
    link = settings.BASE_URL + reverse("account-address-is-mine", args=[token])
    write_new_address(user, email, link, now=now)
    return False


def read_address(token: str, *, user: User, now: datetime) -> str | None:
    """Return the address that ``user`` takes by this link; ``None``: it is over or not theirs."""
    said = unseal(KIND, token, now=now)
    found = person_of(said)
    return said["email"] if said and found and found.pk == user.pk else None


@transaction.atomic
def take_address(*, user: User, email: str, now: datetime) -> None:
    """Let the new address hold, and tell so at the old one."""
    before = user.email
    _take(user, email)
    tell(user, f"your address is {email} now", now=now, to=before)


def _take(user: User, email: str) -> None:
    before, user.email = user.email, email
    try:
        user.clean_fields(exclude=["password"])
        with transaction.atomic():
            user.save(update_fields=["email"])
    except (IntegrityError, ValidationError):
        user.email = before
        raise Refused("This address can't be used here; choose another one.", "email") from None
