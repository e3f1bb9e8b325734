"""Something promised after a session."""

from __future__ import annotations

import secrets
from datetime import date
from typing import Any

from django.db import models
from django.db.models import Q
from django.urls import reverse

from pipeline.leads.models import Lead
from pipeline.teams.models import Recorded, TeamOwned, TeamQuerySet, Versioned

from .session import DiscoverySession


class DeliverableQuerySet(TeamQuerySet["Deliverable"]):
    """Deliverables by what they are looked up for."""

    def owed(self) -> DeliverableQuerySet:
        """Return what was promised and neither sent nor waived."""
        return self.filter(sent_on=None, waived_on=None)

    def with_names(self) -> DeliverableQuerySet:
        """Return deliverables with lead, session and owner at hand."""
        return self.select_related("lead", "session__format", "owner__user")


def stored_at(deliverable: Deliverable, filename: str) -> str:
    """Return where an uploaded file is kept; nothing of the given name but its ending.

    No name comes back for another file, so that a backup may copy files after the database.
    """
    ending = filename.rpartition(".")[2].lower()
    ending = ending if ending.isascii() and ending.isalnum() and len(ending) <= 5 else "bin"
    token = secrets.token_hex(8)
    return f"team-{deliverable.team_id}/deliverable-{deliverable.pk}-{token}.{ending}"


class Deliverable(TeamOwned, Recorded, Versioned):
    """Something promised, with a due day, an owner, and the day it was sent or waived."""

    lead = models.ForeignKey(Lead, models.CASCADE, related_name="deliverables")
    # NULL: the session is not known (from an import).
    session = models.ForeignKey(
        DiscoverySession, models.CASCADE, null=True, blank=True, related_name="deliverables"
    )
    title = models.CharField(max_length=120)
    due_on = models.DateField("due")
    owner = models.ForeignKey(
        "teams.Member", models.SET_NULL, null=True, blank=True, related_name="+"
    )
    file = models.FileField(upload_to=stored_at, blank=True, max_length=200)
    # What the file was called when it was uploaded: shown, never used as a path.
    file_name = models.CharField(max_length=200, blank=True, editable=False)
    link = models.URLField(max_length=500, blank=True)
    # NULL: not sent.
    sent_on = models.DateField("day sent", null=True, blank=True)
    sent_to = models.CharField("sent to", max_length=300, blank=True)
    # NULL: not waived.
    waived_on = models.DateField(null=True, blank=True)
    waived_reason = models.TextField("why it is waived", blank=True)
    # Who marked it sent or waived, and when; NULL: not marked, or by an import.
    marked_at = models.DateTimeField(null=True, editable=False)
    marked_by = models.ForeignKey(
        "teams.Member", models.SET_NULL, null=True, editable=False, related_name="+"
    )

    objects: Any = DeliverableQuerySet.as_manager()

    class Meta:
        ordering = ["due_on", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["team", "session", "title"], name="deliverable_unique"
            ),
            models.UniqueConstraint(
                fields=["team", "lead", "title"],
                condition=Q(session=None),
                name="deliverable_of_lead_unique",
            ),
            models.CheckConstraint(
                condition=Q(sent_on=None) | Q(waived_on=None), name="sent_or_waived"
            ),
        ]
        indexes = [
            models.Index(
                fields=["team", "due_on"],
                condition=Q(sent_on=None, waived_on=None),
                name="deliverable_owed",
            )
        ]

    def __str__(self) -> str:
        return self.title

    def get_absolute_url(self) -> str:
        return reverse("deliverable", args=[self.team.slug, self.pk])

    @property
    def owed(self) -> bool:
        """Whether it is still to be sent."""
        return self.sent_on is None and self.waived_on is None

    def late_on(self, day: date) -> bool:
        """Tell whether it is still to be sent on ``day`` and was due before."""
        return self.owed and self.due_on < day
