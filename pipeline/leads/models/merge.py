"""Two leads that were one, and how to part them again."""

from __future__ import annotations

from typing import Any

from django.db import models

from pipeline.teams.models import TeamOwned, TeamQuerySet

from .lead import Lead


class MergeQuerySet(TeamQuerySet["Merge"]):
    """Merges by what they are looked up for."""

    def into(self, lead: Lead) -> MergeQuerySet:
        """Return what was merged into ``lead`` and not parted from it again, newest first."""
        standing = self.filter(kept=lead, undone_at=None)
        return standing.select_related("gone", "merged_by__user").order_by("-merged_at", "-pk")


class Merge(TeamOwned):
    """``gone`` was merged into ``kept``; ``moved`` lists the rows that changed hands."""

    kept = models.ForeignKey(Lead, models.CASCADE, related_name="+")
    gone = models.ForeignKey(Lead, models.CASCADE, related_name="+")
    # {"leads.contact.lead": [primary keys], …}: model and the field that named the lead
    moved = models.JSONField(default=dict)
    merged_at = models.DateTimeField()
    merged_by = models.ForeignKey("teams.Member", models.SET_NULL, null=True, related_name="+")
    # NULL: still merged.
    undone_at = models.DateTimeField(null=True)

    objects: Any = MergeQuerySet.as_manager()

    def __str__(self) -> str:
        return f"{self.gone} into {self.kept}"
