"""Who belongs to a team, and in which role. A team always has an owner."""

from __future__ import annotations

from datetime import date
from typing import cast

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import models, transaction
from django.db.models import F

from .models import Member, Role, Team, User, Versioned
from .refused import Refused


@transaction.atomic
def join(*, team: Team, email: str, name: str = "", role: str = Role.MEMBER) -> Member:
    """Let the person with this address into the team; make an account where there is none.

    Who left comes back as who they were, in the new role.
    """
    address = email.strip()
    try:
        validate_email(address)
    except ValidationError:
        raise Refused("Give an address such as name@agency.example.", "email") from None
    user = User.objects.filter(email__iexact=address).first()
    if user is None:
        user = User.objects.create_user(address, name=name.strip())
    member, new = Member.objects.select_for_update().get_or_create(
        team=team, user=user, defaults={"role": role}
    )
    if not new:
        if member.left_on is None:
            raise Refused(f"{user} is in the team already.", "email")
        member.left_on, member.role = None, role
        member.save(update_fields=["left_on", "role"])
    return member


@transaction.atomic
def change_role(*, member: Member, role: str) -> bool:
    """Give a member another role; returns whether anything changed.

    Who becomes a reader may own no work: what they had is nobody's until somebody takes it.
    """
    member = _lock(member)
    if member.role == role:
        return False
    _keep_an_owner(member)
    member.role = role
    member.save(update_fields=["role"])
    if not member.writes:
        _release_work(member)
    return True


@transaction.atomic
def remove(*, member: Member, today: date) -> bool:
    """Let a member leave; returns whether anything changed. What they did stays on record.

    Their work is nobody's until somebody takes it.
    """
    member = _lock(member)
    if member.left_on is not None:
        return False
    _keep_an_owner(member)
    member.left_on = today
    member.save(update_fields=["left_on"])
    # Ends invitations handed out before: nobody comes back by an old one.
    Team.objects.filter(pk=member.team_id).update(version=F("version") + 1)
    _release_work(member)
    return True


@transaction.atomic
def hand_over(*, owner: Member, to: Member, role: str) -> None:
    """Make ``to`` an owner, and give ``owner`` the ``role`` that they keep."""
    if to.pk == owner.pk:
        raise Refused("The team is yours already; choose somebody else.", "to")
    if _lock(to).left_on is not None:
        raise Refused(f"{to} has left the team; choose somebody else.", "to")
    change_role(member=to, role=Role.OWNER)
    change_role(member=owner, role=role)


@transaction.atomic
def require_second_factor(*, owner: Member, required: bool) -> bool:
    """Ask a second factor of every member, or no more; returns whether anything changed."""
    if required and not owner.user.second_factor:
        raise Refused("Set up your own second factor first: you would be shut out yourself.")
    other = Team.objects.filter(pk=owner.team_id).exclude(requires_second_factor=required)
    # A form of the team's settings that was opened before is told.
    return bool(other.update(requires_second_factor=required, version=F("version") + 1))


def _lock(member: Member) -> Member:
    """Return the member as it is now, with the team held: two owners can't both be the last."""
    Team.objects.select_for_update().get(pk=member.team_id)
    return Member.objects.select_related("user").get(pk=member.pk)


def _keep_an_owner(member: Member) -> None:
    """Raise ``Refused`` if without this member the team had no owner."""
    owners = Member.objects.present().filter(team=member.team_id, role=Role.OWNER)
    if member.role == Role.OWNER and not owners.exclude(pk=member.pk).exists():
        raise Refused(f"{member} is the last owner. Make somebody else an owner first.")


def _release_work(member: Member) -> None:
    """Take the member off everything that has an owner; forms opened before will say so."""
    for relation in Member._meta.get_fields(include_hidden=True):
        if isinstance(relation, models.ManyToOneRel) and relation.field.name == "owner":
            model = cast(type[models.Model], relation.related_model)
            changed = {"version": F("version") + 1} if issubclass(model, Versioned) else {}
            model._base_manager.filter(owner=member).update(owner=None, **changed)
