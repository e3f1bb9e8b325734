"""Outgoing letters as rows: written with the fact that causes them, claimed, sent, kept."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from typing import Any

from django.db import models
from django.db.models import F, Q

from pipeline.teams.models import Member, Role, TeamOwned, TeamQuerySet

# Must stay well above any time-out of the mail server.
LEASE = timedelta(minutes=5)


class LetterQuerySet(TeamQuerySet["Letter"]):
    """Letters by what they are looked up for."""

    def for_outbox(self) -> LetterQuerySet:
        """Return letters for the outbox page, newest first."""
        return self.select_related("member__user", "by__user", "team").order_by("-due_at", "-pk")

    def visible_to(self, member: Member) -> LetterQuerySet:
        """Return the letters that a member may read: an owner the team's, others their own.

        One's own are those to oneself and those that one had sent.
        """
        rows = self.filter(team=member.team_id)
        return rows if member.may(Role.OWNER) else rows.filter(Q(member=member) | Q(by=member))

    def waiting(self, now: datetime) -> LetterQuerySet:
        """Return letters that are due and that no worker holds."""
        return self.filter(
            Q(claimed_until=None) | Q(claimed_until__lte=now), sent_at=None, due_at__lte=now
        )

    def claim(self, pk: int, *, now: datetime) -> Letter | None:
        """Take one waiting letter for this worker; ``None`` if another was quicker."""
        token = uuid.uuid4()
        taken = (
            self.waiting(now)
            .filter(pk=pk)
            .update(claim=token, claimed_until=now + LEASE, attempts=F("attempts") + 1)
        )
        return self.get(pk=pk, claim=token) if taken else None


class Letter(TeamOwned):
    """One letter to one address."""

    # Says what the letter is about; the same cause never makes a second letter.
    key = models.CharField(max_length=200)
    # NULL: not to a member.
    member = models.ForeignKey("teams.Member", models.SET_NULL, null=True, related_name="+")
    # Who had it sent, and gets the answer; NULL: the app wrote it by itself.
    by = models.ForeignKey("teams.Member", models.SET_NULL, null=True, related_name="+")
    to = models.EmailField(max_length=254)
    subject = models.CharField(max_length=250)
    text = models.TextField()
    html = models.TextField(blank=True)
    # A calendar file that goes with it (RFC 6047); empty: none.
    calendar = models.TextField(blank=True)
    due_at = models.DateTimeField()
    attempts = models.PositiveSmallIntegerField(default=0)
    # NULL: no worker has it. A claim that has run out may be taken over.
    claim = models.UUIDField(null=True)
    claimed_until = models.DateTimeField(null=True)
    # NULL: not sent yet.
    sent_at = models.DateTimeField(null=True)

    objects: Any = LetterQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["team", "key"], name="letter_unique")]
        indexes = [
            models.Index(fields=["due_at"], condition=Q(sent_at=None), name="letter_waiting"),
            models.Index(fields=["team", "-due_at"], name="letter_outbox"),
        ]

    def __str__(self) -> str:
        return self.subject

    def mark_sent(self, *, now: datetime) -> bool:
        """Record that this claim sent the letter; False where the claim was lost meanwhile."""
        rows = type(self).objects.filter(pk=self.pk, claim=self.claim, sent_at=None)
        return bool(rows.update(sent_at=now, claimed_until=None))
