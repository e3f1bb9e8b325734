"""A sheet that was handed in for import, and what came of it."""

from __future__ import annotations

from typing import Any

from django.db import models

from pipeline.teams.models import TeamOwned, TeamQuerySet


class Sheet(TeamOwned):
    """An uploaded CSV file: previewed first, then taken in."""

    name = models.CharField(max_length=200)
    content = models.BinaryField()
    handed_in_at = models.DateTimeField()
    handed_in_by = models.ForeignKey("teams.Member", models.SET_NULL, null=True, related_name="+")
    # NULL: only previewed so far.
    taken_in_at = models.DateTimeField(null=True)
    # Counts of the last reading; see pipeline/exchange/report.py.
    report = models.JSONField(default=dict)

    objects: Any = TeamQuerySet["Sheet"].as_manager()

    def __str__(self) -> str:
        return self.name
