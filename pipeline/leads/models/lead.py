"""A lead: one organisation's possible project with the team."""

from __future__ import annotations

import secrets
from typing import Any

from django.db import models
from django.urls import reverse

from pipeline.teams.models import TeamOwned, TeamQuerySet, Versioned
from pipeline.teams.money import AmountField, check_currency

# No vowels, no look-alikes: read out on the phone without spelling words.
REFERENCE_LETTERS = "23456789BCDFGHJKLMNPQRSTVWXZ"


def new_reference() -> str:
    """Return a reference that no other lead has (28^10 of them)."""
    return "".join(secrets.choice(REFERENCE_LETTERS) for _ in range(10))


class Standing(models.TextChoices):
    """Where a lead is now. Computed from its facts (see sessions/standing.py), never typed."""

    ENQUIRY = "enquiry", "enquiry"
    BOOKED = "session booked", "session booked"
    HELD = "session held", "session held"
    OWED = "takeaway owed", "takeaway owed"
    PROPOSAL = "proposal out", "proposal out"
    WAITING = "waiting for funding", "waiting for funding"
    FUNDED = "funded", "funded"
    ENGAGED = "engaged", "engaged"
    DECLINED = "declined", "declined"
    QUIET = "gone quiet", "gone quiet"
    TURNED_AWAY = "turned away", "turned away"


class Source(TeamOwned):
    """Where leads come from, in the team's own words."""

    name = models.CharField(max_length=80)

    objects: Any = TeamQuerySet["Source"].as_manager()

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["team", "name"], name="source_unique")]

    def __str__(self) -> str:
        return self.name


class LeadQuerySet(TeamQuerySet["Lead"]):
    """Leads by what they are looked up for."""

    def present(self) -> LeadQuerySet:
        """Return leads that were not merged into another."""
        return self.filter(merged_into=None)

    def lock(self, pk: int) -> Lead:
        """Return one lead as stored, held until the transaction ends.

        Whoever writes facts of a lead waits here for the others; ``no_key`` lets rows that refer
        to the lead be added meanwhile.
        """
        return self.select_for_update(no_key=True).get(pk=pk)

    def with_names(self) -> LeadQuerySet:
        """Return leads with what a list shows of them at hand."""
        return self.select_related("owner__user", "source", "index_format")


class Lead(TeamOwned, Versioned):
    """One organisation's possible project with the team."""

    organisation = models.CharField(max_length=200)
    reference = models.CharField(max_length=200, default=new_reference)
    # Of a sheet's row without a reference: tells the row when the sheet comes again.
    # NULL: the lead did not come from such a row.
    fingerprint = models.CharField(max_length=80, null=True, blank=True, editable=False)
    # The organisation's name in the sheet that brought the lead, by which later rows are told
    # apart even where it was renamed since. NULL: no sheet brought it.
    imported_as = models.CharField(max_length=200, null=True, blank=True, editable=False)
    # NULL: nobody looks after it.
    owner = models.ForeignKey(
        "teams.Member", models.SET_NULL, null=True, blank=True, related_name="+"
    )
    # NULL: not known.
    source = models.ForeignKey(
        Source, models.RESTRICT, null=True, blank=True, related_name="leads"
    )
    # NULL: not known.
    enquired_on = models.DateField("day of the enquiry", null=True, blank=True)
    # NULL: not known; 0 means that there is none.
    budget_at_entry = AmountField("budget at entry", null=True, blank=True)
    expected_fee = AmountField(null=True, blank=True)
    currency = models.CharField(max_length=3, validators=[check_currency])
    # Delayed entry: the lead is known to have been followed only since this day. NULL: all along.
    followed_since = models.DateField(null=True, blank=True)
    note = models.TextField(blank=True)
    created_at = models.DateTimeField(editable=False)
    # NULL: stands for itself. Set by a merge; such a lead is shown nowhere.
    merged_into = models.ForeignKey(
        "self", models.SET_NULL, null=True, editable=False, related_name="+"
    )

    # Written only by sessions/standing.py, in the transaction of the fact that changes them.
    standing = models.CharField(
        max_length=20, choices=Standing, default=Standing.ENQUIRY, editable=False
    )
    # The day of the fact that gave it this standing; NULL: that day is not known.
    standing_since = models.DateField(null=True, editable=False)
    # The first held session's day and format; NULL: none was held (or its format is not known).
    index_day = models.DateField(null=True, editable=False)
    index_format = models.ForeignKey(
        "discovery.Format", models.SET_NULL, null=True, editable=False, related_name="+"
    )

    objects: Any = LeadQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["team", "reference"], name="lead_reference_unique"),
            models.UniqueConstraint(fields=["team", "fingerprint"], name="lead_print_unique"),
        ]
        indexes = [
            models.Index(fields=["team", "standing", "standing_since"], name="lead_by_standing"),
            models.Index(fields=["team", "-created_at", "-id"], name="lead_by_entry"),
            models.Index(fields=["team", "organisation", "id"], name="lead_by_name"),
        ]

    def __str__(self) -> str:
        return self.organisation

    def get_absolute_url(self) -> str:
        return reverse("lead", args=[self.team.slug, self.pk])

    def kept(self) -> Lead:
        """Return the lead into which this one was merged in the end; itself if it was not."""
        lead = self
        while lead.merged_into is not None:
            lead = lead.merged_into
        return lead
