"""A letter to somebody at a lead: drafted, read over by a member, sent in the member's name."""

from __future__ import annotations

from typing import Any

from django.db import models
from django.urls import reverse

from pipeline.leads.models import Contact, Lead
from pipeline.mail.models import Letter
from pipeline.teams.models import TeamOwned, TeamQuerySet, Versioned

from .followup import FollowUp


class LeadLetterQuerySet(TeamQuerySet["LeadLetter"]):
    """Letters to leads by what they are looked up for."""

    def with_names(self) -> LeadLetterQuerySet:
        """Return letters with all that pages show of them at hand."""
        return self.select_related(
            "lead", "contact", "follow_up", "written_by__user", "letter__by__user"
        )


class LeadLetter(TeamOwned, Versioned):
    """One letter to one person at a lead. Nothing sends it but a member."""

    lead = models.ForeignKey(Lead, models.CASCADE, related_name="letters", editable=False)
    # NULL: the person was removed since.
    contact = models.ForeignKey(Contact, models.SET_NULL, null=True, related_name="+")
    # NULL: written without one, or it is gone.
    follow_up = models.ForeignKey(
        FollowUp, models.SET_NULL, null=True, related_name="letters", editable=False
    )
    # The address that it went to; empty while it is a draft.
    to = models.EmailField(max_length=254, blank=True, editable=False)
    subject = models.CharField(max_length=200)
    text = models.TextField("letter")
    # In whose name it stands; once it is sent: who sent it. NULL: made by someone who has left.
    written_by = models.ForeignKey(
        "teams.Member", models.SET_NULL, null=True, related_name="+", editable=False
    )
    created_at = models.DateTimeField(editable=False)
    # NULL: a draft.
    sent_at = models.DateTimeField(null=True, editable=False)
    # What went out; NULL: a draft.
    letter = models.ForeignKey(
        Letter, models.SET_NULL, null=True, related_name="+", editable=False
    )

    objects: Any = LeadLetterQuerySet.as_manager()

    class Meta:
        ordering = ["created_at", "pk"]
        verbose_name = "letter"
        constraints = [models.UniqueConstraint(fields=["team", "letter"], name="lead_letter_once")]

    def __str__(self) -> str:
        return self.subject

    def get_absolute_url(self) -> str:
        return reverse("lead-letter", args=[self.team.slug, self.pk])
