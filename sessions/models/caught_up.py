"""Until which day a team's leads were settled for facts that lay ahead when entered."""

from __future__ import annotations

from typing import Any

from django.db import models

from pipeline.teams.models import TeamOwned, TeamQuerySet


class CaughtUp(TeamOwned):
    """The day, in the team's zone, whose facts have all been settled."""

    # NULL: never yet.
    day = models.DateField(null=True)

    objects: Any = TeamQuerySet["CaughtUp"].as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["team"], name="caught_up_unique")]

    def __str__(self) -> str:
        return f"until {self.day}"
