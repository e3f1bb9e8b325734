"""Browsers that are signed in, recovery codes, failed attempts, and invitations."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.conf import settings
from django.contrib.sessions.base_session import AbstractBaseSession
from django.db import models
from django.db.models import Q

from pipeline.teams.models import Role, TeamOwned, TeamQuerySet


class SignIn(AbstractBaseSession):
    """One browser: Django's own session, with whose it is and when it was seen last."""

    # NULL: nobody is signed in.
    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.CASCADE, null=True, related_name="sign_ins"
    )
    began_at = models.DateTimeField()
    seen_at = models.DateTimeField()

    class Meta:
        db_table = "django_session"

    def __str__(self) -> str:
        return f"signed in at {self.began_at:%Y-%m-%d %H:%M}"


class RecoveryCode(models.Model):
    """A code that stands in for the second factor, once; only its digest is kept."""

    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.CASCADE, related_name="recovery_codes"
    )
    digest = models.CharField(max_length=64)
    # NULL: not used.
    used_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["user", "digest"], name="recovery_code_unique")
        ]

    def __str__(self) -> str:
        return "used" if self.used_at else "not used"


class Attempts(models.Model):
    """How often somebody tried in vain, and until when they wait."""

    # What was tried, and by what it is counted: see slowing.py.
    kind = models.CharField(max_length=12)
    # A keyed digest: the row tells nobody which accounts and addresses there are.
    who = models.CharField(max_length=64)
    failures = models.PositiveIntegerField(default=0)
    last_at = models.DateTimeField(db_index=True)
    open_from = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["kind", "who"], name="attempts_unique")]

    def __str__(self) -> str:
        return f"{self.kind}: {self.failures}"


OPEN = Q(accepted_at=None, withdrawn_at=None)


class InvitationQuerySet(TeamQuerySet["Invitation"]):
    """Invitations by what they are looked up for."""

    def open(self) -> InvitationQuerySet:
        """Return those that were neither accepted nor withdrawn."""
        return self.filter(OPEN)

    def with_names(self) -> InvitationQuerySet:
        """Return them with who asked at hand, the newest first."""
        return self.select_related("asked_by__user").order_by("-sent_at", "-pk")


class Invitation(TeamOwned):
    """Somebody who was asked into a team, and is in it only once they have said yes."""

    # In small letters.
    email = models.EmailField("e-mail", max_length=254)
    name = models.CharField(max_length=120, blank=True)
    role = models.CharField(max_length=6, choices=Role, default=Role.MEMBER)
    # NULL: the owner who asked is gone.
    asked_by = models.ForeignKey("teams.Member", models.SET_NULL, null=True, related_name="+")
    sent_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    # How often a link was made: each one ends those before it.
    sends = models.PositiveSmallIntegerField(default=1)
    # NULL: not accepted.
    accepted_at = models.DateTimeField(null=True)
    # NULL: not withdrawn.
    withdrawn_at = models.DateTimeField(null=True)

    objects: Any = InvitationQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["team", "email"], condition=OPEN, name="invitation_open_unique"
            )
        ]

    def __str__(self) -> str:
        return self.name or self.email

    def is_open(self, now: datetime) -> bool:
        """Tell whether it may still be accepted."""
        return self.accepted_at is None and self.withdrawn_at is None and now < self.expires_at
