"""Why letters may go to somebody: when they agreed, how, and in which words."""

from __future__ import annotations

from typing import Any

from django.db import models

from pipeline.leads.models import Contact, Lead
from pipeline.teams.models import TeamOwned, TeamQuerySet


class How(models.TextChoices):
    """How somebody agreed."""

    WRITING = "in writing", "in writing"
    SPOKEN = "by word of mouth", "by word of mouth"
    FORM = "by a form", "by a form"


class ConsentQuerySet(TeamQuerySet["Consent"]):
    """Agreements by what they are looked up for."""

    def standing(self, contact: Contact) -> ConsentQuerySet:
        """Return what this person agreed to and did not take back, the newest first."""
        return self.filter(contact=contact, withdrawn_on=None).order_by("-day", "-pk")


class Consent(TeamOwned):
    """Somebody at a lead agreed to letters; or took back that they wanted no more."""

    lead = models.ForeignKey(Lead, models.CASCADE, related_name="consents")
    # NULL: the person's row was removed since, or not kept then.
    contact = models.ForeignKey(Contact, models.SET_NULL, null=True, related_name="+")
    # Who, in words: the contact may be removed.
    name = models.CharField(max_length=254)
    # When they had asked for no more. NULL: they had not.
    stopped_at = models.DateTimeField(null=True)
    # The day on which they agreed, how, and the wording to which they agreed, or what they said.
    day = models.DateField()
    how = models.CharField(max_length=16, choices=How, blank=True)
    said = models.TextField()
    recorded_at = models.DateTimeField()
    # NULL: entered by someone who has left.
    recorded_by = models.ForeignKey("teams.Member", models.SET_NULL, null=True, related_name="+")

    # The day on which they took it back. NULL: it stands.
    withdrawn_on = models.DateField(null=True)

    objects: Any = ConsentQuerySet.as_manager()

    class Meta:
        ordering = ["day", "pk"]

    def __str__(self) -> str:
        return f"{self.name} agreed on {self.day}"
