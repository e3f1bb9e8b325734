"""A person at a lead."""

from __future__ import annotations

from typing import Any

from django.db import models

from pipeline.teams.models import TeamOwned, TeamQuerySet, Versioned
from pipeline.teams.models.team import check_zone

from .lead import Lead


class Contact(TeamOwned, Versioned):
    """A person at a lead: name, address, what they do there, their time zone."""

    lead = models.ForeignKey(Lead, models.CASCADE, related_name="contacts")
    name = models.CharField(max_length=120, blank=True)
    email = models.EmailField("e-mail", max_length=254, blank=True)
    role = models.CharField(max_length=120, blank=True, help_text="What they do there.")
    # Empty: the same as the team's.
    timezone = models.CharField("time zone", max_length=64, blank=True, validators=[check_zone])

    # NULL: known. Else nothing of the above is left, and nothing is to be noted again.
    erased_at = models.DateTimeField(null=True, editable=False)

    objects: Any = TeamQuerySet["Contact"].as_manager()

    class Meta:
        indexes = [models.Index(fields=["team", "email"], name="contact_by_email")]

    def __str__(self) -> str:
        return self.name or self.email or "erased person"
