"""A team's follow-up plan: for each trigger the offsets at which something is to be done."""

from __future__ import annotations

from typing import Any

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from pipeline.teams.models import TeamOwned, TeamQuerySet


class Trigger(models.TextChoices):
    """The fact from which follow-ups are counted."""

    DELIVERABLE_SENT = "deliverable sent", "deliverable sent"
    SESSION_MISSED = "session missed", "session missed"
    PROPOSAL_SENT = "proposal sent", "proposal sent"
    ENGAGED = "engaged", "engaged"
    NO_BUDGET = "no budget yet", "no budget yet"
    DECLINED = "declined", "declined"
    QUIET = "gone quiet", "gone quiet"
    TURNED_AWAY = "turned away", "turned away"
    FUNDING_ARRIVED = "funding arrived", "funding arrived"


class Unit(models.TextChoices):
    """What an offset counts, and from where."""

    WORKING_DAYS = "working days", "working days after"
    WEEKS = "weeks", "weeks after"
    MONTHS = "months", "months after"
    WEEKS_BEFORE_FUNDING = "weeks before funding", "weeks before money is expected"


class PlanStep(TeamOwned):
    """One offset of a team's plan: what to do, and when."""

    trigger = models.CharField(max_length=16, choices=Trigger)
    position = models.PositiveSmallIntegerField()
    action = models.CharField("what to do", max_length=200)
    count = models.PositiveSmallIntegerField(validators=[MaxValueValidator(520)])
    unit = models.CharField(max_length=20, choices=Unit)
    # How often: every ``count`` units, at most so many times.
    times = models.PositiveSmallIntegerField(
        default=1, validators=[MinValueValidator(1), MaxValueValidator(24)]
    )

    objects: Any = TeamQuerySet["PlanStep"].as_manager()

    class Meta:
        ordering = ["trigger", "position"]
        constraints = [
            models.UniqueConstraint(fields=["team", "trigger", "position"], name="plan_unique")
        ]

    def __str__(self) -> str:
        return self.action
