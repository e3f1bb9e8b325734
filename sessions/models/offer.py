"""Times offered to a lead and held for it until one is taken or all are freed."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.urls import reverse

from pipeline.leads.models import Contact, Lead
from pipeline.teams.models import TeamOwned, TeamQuerySet

from .format import LONGEST, Format
from .session import DiscoverySession, Part


class OfferQuerySet(TeamQuerySet["Offer"]):
    """Offers by what they are looked up for."""

    def open(self) -> OfferQuerySet:
        """Return offers whose times are still held."""
        return self.filter(closed_at=None)

    def with_names(self) -> OfferQuerySet:
        """Return offers with lead, contact, format, times and crew at hand."""
        crew = models.Prefetch("crew", OfferPlace.objects.select_related("member__user"))
        return self.select_related(
            "team", "lead", "contact", "format", "made_by__user", "closed_by__user"
        ).prefetch_related("times", crew)


class Offer(TeamOwned):
    """Up to five times for one session with a lead, for one crew."""

    lead = models.ForeignKey(Lead, models.CASCADE, related_name="offers")
    # Whose clock they were looked for on, and who gets the letter. NULL: nobody in particular.
    contact = models.ForeignKey(Contact, models.SET_NULL, null=True, related_name="+")
    format = models.ForeignKey(Format, models.RESTRICT, related_name="+")
    minutes = models.PositiveSmallIntegerField(
        validators=[MinValueValidator(1), MaxValueValidator(LONGEST)]
    )
    place = models.CharField("joining link or place", max_length=300, blank=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey("teams.Member", models.SET_NULL, null=True, related_name="+")
    # The address a letter with these times went to; empty: none was sent from here.
    sent_to = models.EmailField(max_length=254, blank=True)
    # NULL: still held.
    closed_at = models.DateTimeField(null=True)
    closed_by = models.ForeignKey("teams.Member", models.SET_NULL, null=True, related_name="+")
    # What the taken time became. NULL: still held, or all were freed.
    session = models.ForeignKey(
        DiscoverySession, models.SET_NULL, null=True, related_name="offers"
    )

    objects: Any = OfferQuerySet.as_manager()

    class Meta:
        ordering = ["made_at", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["team", "lead"], condition=Q(closed_at=None), name="one_open_offer"
            )
        ]

    def __str__(self) -> str:
        return f"times for {self.lead}"

    def get_absolute_url(self) -> str:
        return reverse("offer", args=[self.team.slug, self.pk])


class OfferedTime(TeamOwned):
    """One of the times offered."""

    offer = models.ForeignKey(Offer, models.CASCADE, related_name="times")
    starts_at = models.DateTimeField()

    objects: Any = TeamQuerySet["OfferedTime"].as_manager()

    class Meta:
        ordering = ["starts_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["team", "offer", "starts_at"], name="offered_time_unique"
            )
        ]

    def __str__(self) -> str:
        return f"{self.starts_at}"

    @property
    def ends_at(self) -> datetime:
        """The moment at which the time offered is over."""
        return self.starts_at + timedelta(minutes=self.offer.minutes)


class OfferPlace(TeamOwned):
    """A member's part in the session that the times are held for."""

    offer = models.ForeignKey(Offer, models.CASCADE, related_name="crew")
    member = models.ForeignKey("teams.Member", models.CASCADE, related_name="+")
    part = models.CharField(max_length=11, choices=Part)

    class Meta:
        ordering = ["part", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["team", "offer", "member"], name="offer_crew_unique")
        ]

    def __str__(self) -> str:
        return f"{self.member}, {self.part}"
