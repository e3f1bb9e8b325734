"""The second factor: set up with a first code, asked after the password, taken off again."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from pipeline.locks.asking import as_user
from pipeline.teams.models import Member, Team, User
from pipeline.teams.refused import Refused

from .codes import bare, digest_of, lock, matching_step, new_recovery_codes, unlock
from .models import RecoveryCode

DIGITS = 6


def is_right(user: User, typed: str, *, now: datetime) -> bool:
    """Tell whether a code is right, and use it up: neither kind counts a second time."""
    code = bare(typed)
    if code.isdecimal() and len(code) == DIGITS:
        secret = unlock(user.second_factor)
        step = secret and matching_step(secret, code, now=now, after=user.second_factor_step)
        if not step:
            return False
        # Of two who type the same code at once, one is let in.
        rows = User.objects.filter(pk=user.pk, second_factor=user.second_factor)
        return bool(rows.filter(second_factor_step__lt=step).update(second_factor_step=step))
    codes = RecoveryCode.objects.filter(user=user, digest=digest_of(code), used_at=None)
    return bool(codes.update(used_at=now))


@transaction.atomic
def set_up(*, user: User, secret: str, typed: str, now: datetime) -> list[str]:
    """Take ``secret`` as the second factor, if its code is right; returns recovery codes.

    A second factor that was there before is replaced.
    """
    step = matching_step(secret, bare(typed), now=now)
    if step is None:
        raise Refused("That is not the code of this moment. Type the six digits anew.", "code")
    user.second_factor, user.second_factor_since = lock(secret), now
    user.second_factor_step = step
    user.save(update_fields=["second_factor", "second_factor_since", "second_factor_step"])
    return renew_codes(user=user)


@transaction.atomic
def renew_codes(*, user: User) -> list[str]:
    """Put ten new recovery codes in place of the old ones, and return them."""
    codes = new_recovery_codes()
    RecoveryCode.objects.filter(user=user).delete()
    RecoveryCode.objects.bulk_create(
        [RecoveryCode(user=user, digest=digest_of(code)) for code in codes]
    )
    return codes


@transaction.atomic
def take_off(*, user: User, anyway: bool = False) -> bool:
    """Take the second factor off; returns whether there was one.

    Refused where a team asks for it, unless ``anyway``: then the person must set up another.
    """
    asking = teams_that_ask(user)
    if asking and not anyway:
        named = " and ".join(str(team) for team in asking)
        raise Refused(f"{named} asks its members for a second factor. You can set up another one.")
    RecoveryCode.objects.filter(user=user).delete()
    user.second_factor, user.second_factor_since = "", None
    held = User.objects.filter(pk=user.pk).exclude(second_factor="")
    return bool(held.update(second_factor="", second_factor_since=None))


def teams_that_ask(user: User) -> list[Team]:
    """Return the teams of this person that ask for a second factor."""
    mine = Member.objects.for_switching(user).filter(team__requires_second_factor=True)
    with as_user(user.pk):
        return [member.team for member in mine]
