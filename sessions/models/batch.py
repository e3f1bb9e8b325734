"""All takeaways of a month, set one after the other; rows say how far it has come."""

from __future__ import annotations

import secrets
import uuid
from datetime import datetime, timedelta
from typing import Any

from django.db import models
from django.db.models import Q

from pipeline.teams.models import TeamOwned, TeamQuerySet

from .session import DiscoverySession

# Well above what one takeaway takes: after it another worker may take the item over.
LEASE = timedelta(minutes=2)
ATTEMPTS = 3


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

    def waiting(self, now: datetime) -> BatchItemQuerySet:
        """Return what no worker holds and none has finished or given up."""
        free = Q(claimed_until=None) | Q(claimed_until__lte=now)
        return self.filter(free, done_at=None, attempts__lt=ATTEMPTS)

    def claim(self, pk: int, *, now: datetime) -> BatchItem | None:
        """Take one waiting item for this worker; ``None`` if another was quicker."""
        token = uuid.uuid4()
        taken = (
            self.waiting(now)
            .filter(pk=pk)
            .update(claim=token, claimed_until=now + LEASE, attempts=models.F("attempts") + 1)
        )
        rows = self.select_related("session__team", "batch")
        return rows.filter(pk=pk, claim=token).first() if taken else None


def set_at(item: BatchItem, filename: str) -> str:
    """Return where a set takeaway is kept."""
    return f"team-{item.team_id}/batch-{item.batch_id}/{item.pk}-{secrets.token_hex(8)}.pdf"


class BatchItem(TeamOwned):
    """One session's takeaway within a batch."""

    batch = models.ForeignKey(Batch, models.CASCADE, related_name="items")
    session = models.ForeignKey(DiscoverySession, models.CASCADE, related_name="+")
    attempts = models.PositiveSmallIntegerField(default=0)
    # NULL: no worker has it. A claim that has run out may be taken over.
    claim = models.UUIDField(null=True)
    claimed_until = models.DateTimeField(null=True)
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

    @property
    def given_up(self) -> bool:
        """Whether it failed as often as it is tried."""
        return self.done_at is None and self.attempts >= ATTEMPTS
