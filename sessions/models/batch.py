"""All takeaways of a month, set one after the other; rows say how far it has come."""

from __future__ import annotations

import secrets
from typing import Any

from django.db import models
from django.db.models import Exists, OuterRef, Q, Value
from django.db.models.functions import Cast, Concat

from pipeline.jobs.models import Job
from pipeline.teams.models import TeamOwned, TeamQuerySet

from .session import DiscoverySession

# Names the jobs that set them.
KIND = "takeaway"


class Batch(TeamOwned):
    """The takeaways of one month, asked for once."""

    # The first day of the month.
    month = models.DateField()
    asked_at = models.DateTimeField()
    # NULL: who asked is gone.
    asked_by = models.ForeignKey("teams.Member", models.SET_NULL, null=True, related_name="+")

    objects: Any = TeamQuerySet["Batch"].as_manager()

    class Meta:
        ordering = ["-asked_at", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["team", "month", "asked_at"], name="batch_unique")
        ]

    def __str__(self) -> str:
        return f"takeaways of {self.month:%Y-%m}"


class BatchItemQuerySet(TeamQuerySet["BatchItem"]):
    """Items by what they are looked up for."""

    def with_given_up(self: Any) -> Any:
        """Return items with whether their job was given up at hand."""
        key = Concat(Value(f"{KIND}|"), Cast(OuterRef("pk"), models.CharField()))
        jobs = Job.objects.given_up().filter(team=OuterRef("team"), key=key)
        return self.annotate(given_up=Exists(jobs))


def set_at(item: BatchItem, filename: str) -> str:
    """Return where a set takeaway is kept."""
    return f"team-{item.team_id}/batch-{item.batch_id}/{item.pk}-{secrets.token_hex(8)}.pdf"


class BatchItem(TeamOwned):
    """One session's takeaway within a batch; a job sets it."""

    # By ``with_given_up``.
    given_up: bool

    batch = models.ForeignKey(Batch, models.CASCADE, related_name="items")
    session = models.ForeignKey(DiscoverySession, models.CASCADE, related_name="+")
    # NULL: not set yet.
    done_at = models.DateTimeField(null=True)
    file = models.FileField(upload_to=set_at, blank=True, max_length=200)
    file_name = models.CharField(max_length=200, blank=True)
    # Characters that no font has, each once.
    missing = models.TextField(blank=True)

    objects: Any = BatchItemQuerySet.as_manager()

    class Meta:
        ordering = ["session__day", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["team", "batch", "session"], name="batch_item_unique")
        ]
        indexes = [
            models.Index(fields=["batch"], condition=Q(done_at=None), name="batch_item_waiting")
        ]

    def __str__(self) -> str:
        return self.file_name or f"takeaway of session {self.session_id}"
