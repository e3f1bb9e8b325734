"""A sheet that was handed in for import, and what came of it."""

from __future__ import annotations

from typing import Any

from django.db import models

from pipeline.teams.models import TeamOwned, TeamQuerySet


class SheetQuerySet(TeamQuerySet["Sheet"]):
    """Sheets by what they are looked up for."""

    def with_names(self) -> SheetQuerySet:
        """Return sheets with the member who handed them in at hand."""
        return self.select_related("handed_in_by__user")

    def without_content(self) -> SheetQuerySet:
        """Return sheets for a list, which needs no megabytes."""
        return self.defer("content")


class Sheet(TeamOwned):
    """An uploaded CSV file: previewed first, then taken in."""

    name = models.CharField(max_length=200)
    content = models.BinaryField()
    handed_in_at = models.DateTimeField()
    handed_in_by = models.ForeignKey("teams.Member", models.SET_NULL, null=True, related_name="+")
    # NULL: only previewed so far.
    taken_in_at = models.DateTimeField(null=True)
    # Counts of what came of it; see pipeline/exchange/report.py.
    report = models.JSONField(default=dict)

    objects: Any = SheetQuerySet.as_manager()

    def __str__(self) -> str:
        return self.name
