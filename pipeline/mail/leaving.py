"""Leaving a list of letters, and coming back to it, without signing in."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from pipeline.teams.models import Member

from .models import StoppedAddress, Stops
from .stopping import Wish


def stop(wish: Wish, *, now: datetime) -> None:
    """Stop the list for whoever the wish is of: a member's choice, or an address for good."""
    if wish.stops == Stops.LETTERS:
        StoppedAddress.objects.get_or_create(
            team_id=wish.team, address=wish.address, defaults={"stopped_at": now}
        )
    else:
        _member(wish).update(**{_choice(wish): False})


def come_back(wish: Wish) -> None:
    """Take one's own stop back; what a member of the team wrote down is theirs to take back."""
    if wish.stops == Stops.LETTERS:
        _stopped(wish).filter(by=None).delete()
    else:
        _member(wish).update(**{_choice(wish): True})


def is_stopped(wish: Wish) -> bool:
    """Tell whether the list goes to this addressee no more."""
    if wish.stops == Stops.LETTERS:
        return bool(_stopped(wish).exists())
    return bool(_member(wish).filter(**{_choice(wish): False}).exists())


def may_come_back(wish: Wish) -> bool:
    """Tell whether a stop is the addressee's own."""
    return wish.stops != Stops.LETTERS or bool(_stopped(wish).filter(by=None).exists())


def _choice(wish: Wish) -> str:
    return f"wants_{wish.stops.value}"


def _member(wish: Wish) -> Any:
    return Member.objects.filter(team=wish.team, pk=wish.member or 0)


def _stopped(wish: Wish) -> Any:
    return StoppedAddress.objects.filter(team=wish.team, address=wish.address)
