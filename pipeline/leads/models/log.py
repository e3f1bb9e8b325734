"""The conversation log of a lead."""

from __future__ import annotations

from typing import Any

from django.db import models

from pipeline.teams.models import Recorded, TeamOwned, TeamQuerySet, Versioned

from .lead import Lead


class Channel(models.TextChoices):
    """How people spoke."""

    CALL = "call", "call"
    LETTER = "e-mail", "e-mail"
    MEETING = "meeting", "meeting"
    MESSAGE = "message", "message"
    OTHER = "other", "other"


class LogEntry(TeamOwned, Recorded, Versioned):
    """One conversation: day, channel, who, and the gist."""

    lead = models.ForeignKey(Lead, models.CASCADE, related_name="log")
    day = models.DateField()
    channel = models.CharField(max_length=8, choices=Channel)
    # The person at the lead, in words; the member is recorded_by.
    who = models.CharField("spoke with", max_length=120, blank=True)
    gist = models.TextField()

    objects: Any = TeamQuerySet["LogEntry"].as_manager()

    class Meta:
        ordering = ["day", "pk"]
        verbose_name = "conversation"

    def __str__(self) -> str:
        return f"{self.channel} on {self.day}"
