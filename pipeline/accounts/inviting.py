"""Asking somebody into a team: nobody is in it before they have said yes themselves.

Whoever has an account may be at work for others too. So nobody gets a link to sign in as them; and
whether there is an account is told to nobody but the person with the link.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from django.conf import settings
from django.db import transaction
from django.urls import reverse

from pipeline.locks.asking import as_team
from pipeline.teams.membership import join
from pipeline.teams.models import Member, Team, User
from pipeline.teams.refused import Refused

from .letters import write_invitation
from .models import Invitation
from .slowing import Who, admit
from .tokens import seal, unseal

KIND = "invitation"
LASTS = timedelta(days=3)


@transaction.atomic
def ask(*, owner: Member, email: str, name: str, role: str, now: datetime) -> Invitation:
    """Ask the person with this address into the owner's team, by a letter."""
    team, email = Team.objects.select_for_update().get(pk=owner.team_id), email.strip().lower()
    there = Member.objects.for_team(team).present().with_user()
    member = there.filter(user__email__iexact=email).first()
    if member is not None:
        raise Refused(f"{member} is in the team already.", "email")
    earlier = Invitation.objects.for_team(team).open().filter(email=email).first()
    if earlier is not None and earlier.is_open(now):
        raise Refused(f"{email} was asked already. The letter can be sent again.", "email")
    if earlier is not None:
        withdraw(invitation=earlier, now=now)
    _admit(team, email, now)
    invitation: Invitation = Invitation.objects.create(
        team=team,
        email=email,
        name=name.strip(),
        role=role,
        asked_by=owner,
        sent_at=now,
        expires_at=now + LASTS,
    )
    write_invitation(invitation, link_of(invitation), now=now)
    return invitation


@transaction.atomic
def send_again(*, invitation: Invitation, now: datetime) -> Invitation:
    """Ask once more; the link of the letter before is over."""
    invitation = _lock(invitation)
    if invitation.accepted_at or invitation.withdrawn_at:
        raise Refused(f"{invitation} was not asked any more. Ask anew.")
    _admit(invitation.team, invitation.email, now)
    invitation.sends += 1
    invitation.sent_at, invitation.expires_at = now, now + LASTS
    invitation.save(update_fields=["sends", "sent_at", "expires_at"])
    write_invitation(invitation, link_of(invitation), now=now)
    return invitation


def withdraw(*, invitation: Invitation, now: datetime) -> bool:
    """Take an invitation back; returns whether it was open."""
    held = Invitation.objects.open().filter(pk=invitation.pk)
    return bool(held.update(withdrawn_at=now))


def accept(
    *, invitation: Invitation, now: datetime, name: str = "", password: str = ""
) -> tuple[Member, bool]:
    """Let the person who was asked in; returns the member, and whether the account is new.

    ``password`` is that of a new account; that of an account that is there already stays.
    """
    with transaction.atomic(), as_team(invitation.team_id):
        invitation = _lock(invitation)
        if not invitation.is_open(now):
            raise Refused("This invitation is over. Ask for another one.")
        new, team = account_of(invitation) is None, invitation.team
        member = join(team=team, email=invitation.email, name=name, role=invitation.role)
        if new:
            member.user.set_password(password)
            member.user.save(update_fields=["password"])
        invitation.accepted_at = now
        invitation.save(update_fields=["accepted_at"])
        return member, new


def account_of(invitation: Invitation) -> User | None:
    """Return the account that is there for the address of an invitation."""
    return User.objects.filter(email__iexact=invitation.email).first()


def link_of(invitation: Invitation) -> str:
    """Return the full address at which the person says yes; one made before is over."""
    return settings.BASE_URL + reverse("join", args=[token_of(invitation)])


def token_of(invitation: Invitation) -> str:
    """Return what the link says: which invitation, and which sending of it."""
    said = {"team": invitation.team_id, "invitation": invitation.pk, "sends": invitation.sends}
    return seal(KIND, said, until=invitation.expires_at)


def read(token: str, *, now: datetime) -> Invitation | None:
    """Return the invitation that a token opens now; ``None`` for one that is wrong or over."""
    said = unseal(KIND, token, now=now)
    if said is None:
        return None
    rows = Invitation.objects.open().select_related("team", "asked_by__user")
    mine = rows.filter(team=said["team"], pk=said["invitation"], sends=said["sends"])
    # The token was made here: so it may name the team.
    with as_team(said["team"]):
        invitation: Invitation | None = mine.first()
    return invitation if invitation and invitation.is_open(now) else None


def _admit(team: Team, email: str, now: datetime) -> None:
    """Let no team flood a person, or many people, with letters."""
    admit([Who("invitation", f"{team.pk} {email}"), Who("team asks", str(team.pk))], now=now)


def _lock(invitation: Invitation) -> Invitation:
    rows = Invitation.objects.select_for_update(of=("self",)).select_related("team")
    locked: Invitation = rows.get(pk=invitation.pk)
    return locked
