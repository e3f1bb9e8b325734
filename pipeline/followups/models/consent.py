"""Why letters may go again to somebody who had asked for no more."""

from __future__ import annotations

from typing import Any

from django.db import models

from pipeline.leads.models import Lead
from pipeline.teams.models import TeamOwned, TeamQuerySet


class Consent(TeamOwned):
    """Somebody at a lead took back that they wanted no more letters, or never had said so."""

    lead = models.ForeignKey(Lead, models.CASCADE, related_name="consents")
    # Who, in words: the contact may be removed.
    name = models.CharField(max_length=254)
    # When they had asked for no more.
    stopped_at = models.DateTimeField()
    # The day on which they agreed, and what they said.
    day = models.DateField()
    said = models.TextField()
    recorded_at = models.DateTimeField()
    # NULL: entered by someone who has left.
    recorded_by = models.ForeignKey("teams.Member", models.SET_NULL, null=True, related_name="+")

    objects: Any = TeamQuerySet["Consent"].as_manager()

    class Meta:
        ordering = ["day", "pk"]

    def __str__(self) -> str:
        return f"{self.name} agreed on {self.day}"
