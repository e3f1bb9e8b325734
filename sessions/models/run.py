"""How a session ran: what was pressed and when, and the real minutes of each step."""

from __future__ import annotations

from typing import Any

from django.db import models

from pipeline.teams.models import TeamOwned, TeamQuerySet

from .format import Step
from .session import DiscoverySession


class Desk(TeamOwned):
    """The count of all writes at one session's desk.

    Every write locks this row and takes the next number, so that a client that asks for what
    changed after the number it has seen is never told too little.
    """

    session = models.ForeignKey(DiscoverySession, models.CASCADE, related_name="desks")
    changed = models.PositiveBigIntegerField(default=0)

    objects: Any = TeamQuerySet["Desk"].as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["team", "session"], name="desk_unique")]

    def __str__(self) -> str:
        return f"desk of {self.session_id}"


class Press(models.TextChoices):
    """What can be pressed on the run sheet."""

    START = "start", "start"
    PAUSE = "pause", "pause"
    RESUME = "resume", "go on"
    ADD = "add", "add minutes"
    NEXT = "next", "next step"
    BACK = "back", "back a step"
    END = "end", "end"


class RunEvent(TeamOwned):
    """One press. Never changed: the clock is a function of these rows and the present moment."""

    session = models.ForeignKey(DiscoverySession, models.CASCADE, related_name="run_events")
    key = models.UUIDField()
    kind = models.CharField(max_length=6, choices=Press)
    # When it was pressed, by the server's clock; never before the event before.
    at = models.DateTimeField()
    # NULL: who pressed it is gone.
    by = models.ForeignKey("teams.Member", models.SET_NULL, null=True, related_name="+")
    # The step that gets ``minutes``; NULL for every kind but add.
    step = models.ForeignKey(Step, models.RESTRICT, null=True, related_name="+")
    # Minutes given to the step, below zero where it is shortened; 0 for every kind but add.
    minutes = models.SmallIntegerField(default=0)
    changed = models.PositiveBigIntegerField(default=0)

    objects: Any = TeamQuerySet["RunEvent"].as_manager()

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["team", "session", "key"], name="run_event_unique")
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} at {self.at}"


class StepRun(TeamOwned):
    """How long one step really took in one session; kept when the run ends."""

    session = models.ForeignKey(DiscoverySession, models.CASCADE, related_name="step_runs")
    step = models.ForeignKey(Step, models.CASCADE, related_name="runs")
    seconds = models.PositiveIntegerField()

    objects: Any = TeamQuerySet["StepRun"].as_manager()

    class Meta:
        ordering = ["step__position"]
        constraints = [
            models.UniqueConstraint(fields=["team", "session", "step"], name="step_run_unique")
        ]

    def __str__(self) -> str:
        return f"{self.step_id}: {self.seconds} s"
