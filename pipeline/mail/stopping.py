"""The addresses at which an addressee stops a list of letters."""

from __future__ import annotations

from dataclasses import dataclass

from django.conf import settings
from django.core import signing
from django.urls import reverse

from .models import Letter, Stops, digest_of

# Never changes from one rendering to the next: the same letter gives the same message.
signer = signing.Signer(salt="pipeline.mail.stopping")


@dataclass(frozen=True)
class Wish:
    """Which team's list is to be stopped for whom: a member, or whoever has an address."""

    team: int
    stops: Stops
    # None: the addressee is no member.
    member: int | None
    # What an address is known by; a link lies in logs, so it holds no address.
    address: str


def stop_token(letter: Letter) -> str:
    """Return the token that stops the list to which ``letter`` belongs, for its addressee."""
    said = [letter.team_id, letter.stops, letter.member_id, digest_of(letter.to)]
    return signer.sign_object(said)


def stop_link(letter: Letter) -> str:
    """Return the full address of the page that asks whether to stop the list."""
    return settings.BASE_URL + reverse("stop-letters", args=[stop_token(letter)])


def read_wish(token: str) -> Wish | None:
    """Return what the token says; ``None`` for one that was not made here, or is of nobody."""
    try:
        team, stops, member, address = signer.unsign_object(token)
        wish = Wish(team, Stops(stops), member, address)
    except (signing.BadSignature, ValueError):
        return None
    # A list of members that names none: the letter's member is gone.
    return None if wish.stops != Stops.LETTERS and wish.member is None else wish
