"""What a link says, signed: who may do which one thing, and until when."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.core import signing
from django.utils.crypto import constant_time_compare, salted_hmac

from pipeline.teams.models import User


def seal(kind: str, said: dict[str, Any], *, until: datetime) -> str:
    """Return a token that says ``said`` until then; one of another ``kind`` is none."""
    return _signer(kind).sign_object([said, int(until.timestamp())])


def unseal(kind: str, token: str, *, now: datetime) -> dict[str, Any] | None:
    """Return what the token says; ``None`` for one that is made up or over."""
    try:
        said, until = _signer(kind).unsign_object(token)
    except (signing.BadSignature, ValueError):
        return None
    return said if now.timestamp() < until else None


def print_of(user: User) -> str:
    """Return what changes with a person's password, address and last sign-in.

    A link that holds it is over as soon as it was used.
    """
    told = f"{user.pk}|{user.password}|{user.email}|{user.last_login}"
    return salted_hmac("pipeline.accounts.tokens", told, algorithm="sha256").hexdigest()


def person_of(said: dict[str, Any] | None) -> User | None:
    """Return the person whom a token names by ``user`` and ``print``, if they still fit."""
    if said is None:
        return None
    user = User.objects.filter(pk=said["user"], is_active=True).first()
    return user if user and constant_time_compare(print_of(user), said["print"]) else None


def _signer(kind: str) -> signing.Signer:
    return signing.Signer(salt=f"pipeline.accounts.{kind}")
