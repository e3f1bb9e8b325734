"""A team's public page for enquiries, what came by it, and from where, for a day."""

from __future__ import annotations

from typing import Any

from django.db import models
from django.urls import reverse

from pipeline.leads.models import Contact, Lead
from pipeline.teams.models import TeamOwned, TeamQuerySet, Versioned


class EnquiryPage(TeamOwned, Versioned):
    """The page on which people enquire by themselves; closed until an owner opens it."""

    is_open = models.BooleanField(default=False)
    introduction = models.TextField(max_length=1000, blank=True)
    # What the box says by which somebody agrees to letters; empty: there is no box.
    agreement = models.TextField(max_length=500, blank=True)

    objects: Any = TeamQuerySet["EnquiryPage"].as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["team"], name="enquiry_page_unique")]

    def __str__(self) -> str:
        return f"enquiries of {self.team}"

    def get_absolute_url(self) -> str:
        return reverse("enquire", args=[self.team.slug])


class Enquiry(TeamOwned):
    """One enquiry that came by the page; what was written is a conversation of the lead."""

    lead = models.ForeignKey(Lead, models.CASCADE, related_name="enquiries")
    # NULL: who wrote it was removed.
    contact = models.ForeignKey(Contact, models.SET_NULL, null=True, related_name="enquiries")
    received_at = models.DateTimeField()
    # The words by which they agreed to letters, as they read them; empty: they did not.
    agreed_to = models.TextField(blank=True)

    objects: Any = TeamQuerySet["Enquiry"].as_manager()

    class Meta:
        ordering = ["received_at", "pk"]

    def __str__(self) -> str:
        return f"enquiry of {self.received_at:%Y-%m-%d}"


class Arrival(TeamOwned):
    """When an enquiry came, and from which network, by a hash alone; forgotten after a day."""

    network = models.CharField(max_length=64)
    at = models.DateTimeField()

    objects: Any = TeamQuerySet["Arrival"].as_manager()

    class Meta:
        indexes = [models.Index(fields=["team", "-at"], name="arrival_by_time")]

    def __str__(self) -> str:
        return f"arrived at {self.at:%H:%M}"
