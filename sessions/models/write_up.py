"""What is written down after the hour: what the team learned, and what the lead gets back."""

from __future__ import annotations

from typing import Any

from django.db import models

from pipeline.teams.models import TeamOwned, TeamQuerySet, Versioned

from .session import DiscoverySession


class Budget(models.TextChoices):
    """Whether the lead has money for it."""

    THERE = "there", "there"
    SOUGHT = "sought", "sought"
    NONE = "none", "none"


class AfterHour(TeamOwned, Versioned):
    """What the team learned of the lead; for itself, never in the takeaway."""

    session = models.ForeignKey(DiscoverySession, models.CASCADE, related_name="after_hours")
    decides = models.CharField("who decides", max_length=300, blank=True)
    # Empty: nobody said.
    budget = models.CharField(max_length=6, choices=Budget, blank=True)
    asked_for = models.TextField("what they asked for", max_length=4000, blank=True)

    objects: Any = TeamQuerySet["AfterHour"].as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["team", "session"], name="after_hour_unique")
        ]

    def __str__(self) -> str:
        return f"after session {self.session_id}"


class WriteUp(TeamOwned, Versioned):
    """What the lead gets back in the crew's own words; the rest is taken from what was caught."""

    session = models.ForeignKey(DiscoverySession, models.CASCADE, related_name="write_ups")
    challenge = models.CharField("the challenge in one sentence", max_length=400, blank=True)
    goal = models.TextField(max_length=2000, blank=True)
    # One a line; notes that were reworded as questions come besides.
    opportunities = models.TextField(max_length=20_000, blank=True)
    # One a line.
    next_steps = models.TextField(max_length=20_000, blank=True)

    objects: Any = TeamQuerySet["WriteUp"].as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["team", "session"], name="write_up_unique")]

    def __str__(self) -> str:
        return self.challenge or f"write-up of session {self.session_id}"
