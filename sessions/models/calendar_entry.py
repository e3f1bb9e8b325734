"""What those invited to a session were last told of it."""

from __future__ import annotations

from typing import Any

from django.db import models

from pipeline.teams.models import TeamOwned, TeamQuerySet

from .session import DiscoverySession


class CalendarEntry(TeamOwned):
    """A session as it stands in the calendars of those who were invited to it."""

    session = models.ForeignKey(DiscoverySession, models.CASCADE, related_name="entries")
    # Counts what they were told; of two files the one with the higher number holds (RFC 5546).
    sequence = models.PositiveIntegerField(default=0)
    # Whose entry it is; stays the same, also where somebody else facilitates later.
    organizer_email = models.EmailField(max_length=254)
    organizer_name = models.CharField(max_length=120, blank=True)
    # Start, minutes, what and where, as last told.
    told = models.JSONField(default=dict)
    # [address, name] of each who has the entry now.
    people = models.JSONField(default=list)
    # Whether it was last taken off their calendars.
    withdrawn = models.BooleanField(default=False)
    told_at = models.DateTimeField()

    objects: Any = TeamQuerySet["CalendarEntry"].as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["team", "session"], name="calendar_entry_unique")
        ]

    def __str__(self) -> str:
        return f"entry of {self.session_id}, told {self.sequence + 1} times"
