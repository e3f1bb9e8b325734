"""A takeaway as it was sent: the file, the link to it, and how often it was opened."""

from __future__ import annotations

import secrets
from datetime import date, datetime
from typing import Any

from django.db import models
from django.db.models import F
from django.urls import reverse

from pipeline.teams.models import TeamOwned, TeamQuerySet

from .deliverable import Deliverable
from .session import DiscoverySession


def new_token() -> str:
    """Return what nobody guesses: 256 random bits."""
    return secrets.token_urlsafe(32)


def kept_at(shared: SharedTakeaway, filename: str) -> str:
    """Return where the sent file is kept; its link's secret is no part of it."""
    return f"team-{shared.team_id}/takeaway-{shared.session_id}-{secrets.token_hex(8)}.pdf"


class SharedQuerySet(TeamQuerySet["SharedTakeaway"]):
    """Sent takeaways by what they are looked up for."""

    def open(self) -> SharedQuerySet:
        """Return those whose link still leads to the file."""
        return self.filter(ended_at=None)


class SharedTakeaway(TeamOwned):
    """One sending of a takeaway. What was sent stays as it was, whatever is rewritten later."""

    session = models.ForeignKey(DiscoverySession, models.CASCADE, related_name="shared")
    # NULL: none was owed, or it is gone.
    deliverable = models.ForeignKey(Deliverable, models.SET_NULL, null=True, related_name="shared")
    token = models.CharField(max_length=64, default=new_token)
    file = models.FileField(upload_to=kept_at, max_length=200)
    file_name = models.CharField(max_length=200)
    sent_to = models.CharField(max_length=1000)
    sent_at = models.DateTimeField()
    # NULL: who sent it is gone.
    sent_by = models.ForeignKey("teams.Member", models.SET_NULL, null=True, related_name="+")
    # NULL: the link leads to the file.
    ended_at = models.DateTimeField(null=True)
    ended_by = models.ForeignKey("teams.Member", models.SET_NULL, null=True, related_name="+")

    objects: Any = SharedQuerySet.as_manager()

    class Meta:
        ordering = ["-sent_at", "-pk"]
        constraints = [models.UniqueConstraint(fields=["team", "token"], name="shared_unique")]
        indexes = [models.Index(fields=["token"], name="shared_by_token")]

    def __str__(self) -> str:
        return f"{self.file_name} for {self.sent_to}"

    def get_absolute_url(self) -> str:
        return reverse("shared", args=[self.token])

    def end(self, *, member: Any, now: datetime) -> bool:
        """Let the link lead nowhere from now on; returns whether it led to the file before."""
        rows = type(self).objects.open().filter(pk=self.pk)
        return bool(rows.update(ended_at=now, ended_by=member))


class Opening(TeamOwned):
    """How often a link was opened on a day; nothing is known of who opened it."""

    shared = models.ForeignKey(SharedTakeaway, models.CASCADE, related_name="openings")
    # The team's local day.
    day = models.DateField()
    times = models.PositiveIntegerField(default=0)

    objects: Any = TeamQuerySet["Opening"].as_manager()

    class Meta:
        ordering = ["day"]
        constraints = [
            models.UniqueConstraint(fields=["team", "shared", "day"], name="opening_unique")
        ]

    def __str__(self) -> str:
        return f"{self.times} on {self.day}"

    @classmethod
    def count(cls, shared: SharedTakeaway, day: date) -> None:
        """Count one opening; two at the same moment are two."""
        row, _ = cls.objects.get_or_create(team_id=shared.team_id, shared=shared, day=day)
        cls.objects.filter(pk=row.pk).update(times=F("times") + 1)
