"""That a member's digest of a day was made: the row that keeps it from being made twice."""

from __future__ import annotations

from django.db import models

from pipeline.mail.models import Letter
from pipeline.teams.models import TeamOwned


class Digest(TeamOwned):
    """One member's digest of one local day."""

    member = models.ForeignKey("teams.Member", models.CASCADE, related_name="+")
    day = models.DateField()
    # NULL: nothing was due, so no letter was written.
    letter = models.ForeignKey(Letter, models.SET_NULL, null=True, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["team", "member", "day"], name="digest_unique")
        ]

    def __str__(self) -> str:
        return f"digest of {self.day}"
