"""A named and versioned agenda, its steps, and what it promises."""

from __future__ import annotations

from typing import Any

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from pipeline.teams.models import TeamOwned, TeamQuerySet

LONGEST = 24 * 60


class Way(models.TextChoices):
    """A step's way of working."""

    TALK = "talk", "talk"
    WRITE = "write", "write"
    VOTE = "vote", "vote"
    CREW = "crew only", "crew only"


class Catch(models.TextChoices):
    """What the note-taker catches in a step."""

    NOTHING = "nothing", "nothing"
    THEMES = "themes", "notes under themes"
    STATEMENTS = "statements", "statements under a prompt"
    VOTES = "votes", "votes on the statements"


class FormatQuerySet(TeamQuerySet["Format"]):
    """Formats by what they are looked up for."""

    def for_booking(self) -> FormatQuerySet:
        """Return formats that may be booked, in order of name."""
        return self.filter(retired_on=None).order_by("name", "-version")

    def with_agenda(self) -> FormatQuerySet:
        """Return formats with steps and promises at hand."""
        return self.prefetch_related("steps", "promises").order_by("name", "-version")


class Format(TeamOwned):
    """An agenda of so many minutes. One that was used is never changed in place."""

    name = models.CharField(max_length=80)
    version = models.PositiveIntegerField(default=1)
    minutes = models.PositiveSmallIntegerField(
        default=60, validators=[MinValueValidator(1), MaxValueValidator(LONGEST)]
    )
    purpose = models.CharField(max_length=200, blank=True)
    # NULL: still booked.
    retired_on = models.DateField(null=True, blank=True)
    # Counts the edits in place of a format that was not used yet: of two writers one is told.
    revision = models.PositiveIntegerField(default=1, editable=False)

    objects: Any = FormatQuerySet.as_manager()

    class Meta:
        ordering = ["name", "version"]
        constraints = [
            models.UniqueConstraint(fields=["team", "name", "version"], name="format_unique")
        ]

    def __str__(self) -> str:
        return self.name if self.version == 1 else f"{self.name} ({self.version})"


class Step(TeamOwned):
    """One step of an agenda."""

    format = models.ForeignKey(Format, models.CASCADE, related_name="steps")
    position = models.PositiveSmallIntegerField()
    title = models.CharField(max_length=120)
    minutes = models.PositiveSmallIntegerField(
        validators=[MinValueValidator(1), MaxValueValidator(LONGEST)]
    )
    way = models.CharField("way of working", max_length=9, choices=Way)
    say = models.TextField("what the facilitator says", blank=True)
    catches = models.CharField(
        "what is caught", max_length=10, choices=Catch, default=Catch.NOTHING
    )
    # What statements answer to; empty where none are caught.
    prompt = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["position"]
        constraints = [
            models.UniqueConstraint(fields=["team", "format", "position"], name="step_unique")
        ]

    def __str__(self) -> str:
        return self.title


class Promise(TeamOwned):
    """A deliverable that a format promises, within so many working days."""

    format = models.ForeignKey(Format, models.CASCADE, related_name="promises")
    title = models.CharField(max_length=120)
    working_days = models.PositiveSmallIntegerField(default=3)

    class Meta:
        ordering = ["working_days", "title"]
        constraints = [
            models.UniqueConstraint(fields=["team", "format", "title"], name="promise_unique")
        ]

    def __str__(self) -> str:
        return self.title
