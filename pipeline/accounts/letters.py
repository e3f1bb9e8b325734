"""Letters about accounts: private, as most of them hold a link that lets their reader in."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import uuid4

from django.conf import settings
from django.template.loader import render_to_string

from pipeline.locks.asking import as_team, as_user
from pipeline.mail.outbox import close_up, goes_out, write
from pipeline.teams.models import Member, Team, User

from .models import Invitation


def write_invitation(invitation: Invitation, link: str, *, now: datetime) -> None:
    """Write to who was asked; where no letter goes out the owner hands over the link."""
    if goes_out():
        _write(
            "invitation",
            invitation.team,
            key=key_of(invitation),
            to=invitation.email,
            subject=f"{invitation.team} asks you in",
            now=now,
            by=invitation.asked_by,
            invitation=invitation,
            link=link,
        )


def key_of(invitation: Invitation) -> str:
    """Return the key of the letter with the link that holds now."""
    return f"invitation|{invitation.pk}|{invitation.sends}"


def write_reset(user: User, link: str, *, now: datetime) -> None:
    """Write the link with which a person sets a new password."""
    _to_person("reset", user, to=user.email, subject="Set a new password", now=now, link=link)


def write_new_address(user: User, email: str, link: str, *, now: datetime) -> None:
    """Write to an address whether it is the person's."""
    _to_person("new_address", user, to=email, subject="Is this your address?", now=now, link=link)


def tell(user: User, what: str, *, now: datetime, to: str = "") -> None:
    """Tell a person what was changed in their account: should it have been somebody else."""
    _to_person(
        "changed", user, to=to or user.email, subject=f"Your account: {what}", now=now, what=what
    )


def _to_person(
    template: str, user: User, *, to: str, subject: str, now: datetime, **context: Any
) -> None:
    """Write in the name of the person's first team: a letter is a team's row.

    Who is in no team gets none.
    """
    with as_user(user.pk):
        member = Member.objects.for_switching(user).first()
    if member is None or not goes_out():
        return
    key, team = f"{template}|{user.pk}|{uuid4().hex}", member.team
    with as_team(team.pk):
        _write(template, team, key=key, to=to, subject=subject, now=now, user=user, **context)


def _write(
    template: str,
    team: Team,
    *,
    key: str,
    to: str,
    subject: str,
    now: datetime,
    by: Member | None = None,
    **context: Any,
) -> None:
    told = {"team": team, "by": by, "now": now, "base_url": settings.BASE_URL, **context}
    write(
        team=team,
        key=key,
        to=to,
        subject=subject,
        text=close_up(render_to_string(f"mail/accounts/{template}.txt", told)),
        due_at=now,
        by=by,
        private=True,
    )
