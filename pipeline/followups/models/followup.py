"""One dated thing to do for a lead."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.db import models
from django.urls import reverse

from pipeline.leads.models import Lead
from pipeline.teams.models import TeamOwned, TeamQuerySet, Versioned


class FollowUpState(models.TextChoices):
    """What became of a follow-up. ``ended``: by itself, because a fact made it needless."""

    OPEN = "open", "open"
    DONE = "done", "done"
    DROPPED = "dropped", "dropped"
    ENDED = "ended", "ended"


IS_OPEN = models.Q(state=FollowUpState.OPEN)


class FollowUpQuerySet(TeamQuerySet["FollowUp"]):
    """Follow-ups by what they are looked up for."""

    def open(self) -> FollowUpQuerySet:
        return self.filter(IS_OPEN)

    def due_by(self, day: date) -> FollowUpQuerySet:
        """Return open follow-ups due on ``day`` or before."""
        return self.open().filter(due_on__lte=day)

    def with_names(self) -> FollowUpQuerySet:
        """Return follow-ups with lead and owner at hand."""
        return self.select_related("lead", "owner__user")

    def with_all(self) -> FollowUpQuerySet:
        """Return follow-ups with all that their page shows at hand."""
        return self.select_related("lead", "owner__user", "closed_by__user")


class FollowUp(TeamOwned, Versioned):
    """One dated thing to do for a lead, planned from a fact or added by hand."""

    lead = models.ForeignKey(Lead, models.CASCADE, related_name="follow_ups")
    # Of a planned one: fact, step and turn, so that planning twice makes nothing twice.
    key = models.CharField(max_length=200, editable=False)
    action = models.CharField("what to do", max_length=200)
    # What it follows, in words; empty for one added by hand.
    because = models.CharField(max_length=200, blank=True, editable=False)
    due_on = models.DateField("due")
    # What the plan says; due_on differs once it was put off. NULL: added by hand.
    planned_on = models.DateField(null=True, editable=False)
    owner = models.ForeignKey(
        "teams.Member", models.SET_NULL, null=True, blank=True, related_name="+"
    )
    state = models.CharField(
        max_length=7, choices=FollowUpState, default=FollowUpState.OPEN, editable=False
    )
    # Why it was dropped or ended.
    reason = models.TextField(blank=True)
    created_at = models.DateTimeField(editable=False)
    # NULL: still open.
    closed_on = models.DateField(null=True, editable=False)
    # NULL: open, or ended by itself.
    closed_by = models.ForeignKey(
        "teams.Member", models.SET_NULL, null=True, editable=False, related_name="+"
    )

    objects: Any = FollowUpQuerySet.as_manager()

    class Meta:
        ordering = ["due_on", "pk"]
        verbose_name = "follow-up"
        constraints = [
            models.UniqueConstraint(fields=["team", "lead", "key"], name="followup_unique")
        ]
        indexes = [
            models.Index(fields=["team", "due_on"], condition=IS_OPEN, name="followup_due"),
            models.Index(
                fields=["owner", "due_on"], condition=IS_OPEN, name="followup_due_of_owner"
            ),
        ]

    def __str__(self) -> str:
        return self.action

    def get_absolute_url(self) -> str:
        return reverse("follow-up", args=[self.team.slug, self.pk])
