"""The lane chart: how things go today, step by step, each in the lane of who does it."""

from __future__ import annotations

from typing import Any

from django.db import models

from pipeline.teams.models import TeamOwned, TeamQuerySet, Versioned

from .session import DiscoverySession


class LaneChart(TeamOwned, Versioned):
    """One session's chart; its version counts the times it was stored as a whole."""

    session = models.ForeignKey(DiscoverySession, models.CASCADE, related_name="lane_charts")

    objects: Any = TeamQuerySet["LaneChart"].as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["team", "session"], name="lane_chart_unique")
        ]

    def __str__(self) -> str:
        return f"lane chart of session {self.session_id}"


class LaneStep(TeamOwned):
    """One step of a chart. A step in another lane than the one before was handed over."""

    chart = models.ForeignKey(LaneChart, models.CASCADE, related_name="steps")
    position = models.PositiveSmallIntegerField()
    # Who does it; steps of one party bear the same name.
    lane = models.CharField("who", max_length=60)
    text = models.CharField("what happens", max_length=400)
    handed_over = models.CharField("what is handed over", max_length=120, blank=True)
    look_next = models.BooleanField("look here next", default=False)
    why = models.CharField("why look here", max_length=300, blank=True)

    objects: Any = TeamQuerySet["LaneStep"].as_manager()

    class Meta:
        ordering = ["position"]
        constraints = [
            models.UniqueConstraint(fields=["team", "chart", "position"], name="lane_step_unique")
        ]

    def __str__(self) -> str:
        return f"{self.lane}: {self.text}"
