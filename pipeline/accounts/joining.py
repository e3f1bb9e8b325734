"""Asking somebody who has an account into a team: a link that only that person can use.

Whoever has an account may be at work for others too. So nobody gets a link to sign in as them, and
they are in the team only once they have said so themselves.
"""

from __future__ import annotations

from dataclasses import dataclass

from django.conf import settings
from django.core import signing
from django.urls import reverse

from pipeline.teams.models import Role, Team, User

SALT = "pipeline.accounts.joining"


@dataclass(frozen=True)
class Invitation:
    """What a link says: who may join which team, and as what."""

    user: User
    team: Team
    role: Role


def invitation_token(invitation: Invitation) -> str:
    """Return a token that ends after three days, and earlier when the team changes."""
    said = {
        "user": invitation.user.pk,
        "team": invitation.team.pk,
        "role": invitation.role,
        "version": invitation.team.version,
    }
    return signing.dumps(said, salt=SALT)


def invitation_link(token: str) -> str:
    """Return the full address at which the person joins."""
    return settings.BASE_URL + reverse("join", args=[token])


def read_invitation(token: str) -> Invitation | None:
    """Return what the token says; ``None`` for one that is wrong or over."""
    try:
        said = signing.loads(token, salt=SALT, max_age=settings.PASSWORD_RESET_TIMEOUT)
    except signing.BadSignature:
        return None
    team = Team.objects.filter(pk=said["team"], version=said["version"]).first()
    user = User.objects.filter(pk=said["user"], is_active=True).first()
    return Invitation(user, team, Role(said["role"])) if team and user else None
