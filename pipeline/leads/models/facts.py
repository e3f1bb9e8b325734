"""What a lead decided, what was proposed to it, and when its money arrived: dated facts."""

from __future__ import annotations

from typing import Any

from django.db import models
from django.db.models import Q

from pipeline.teams.models import Recorded, TeamOwned, TeamQuerySet, Versioned
from pipeline.teams.money import AmountField, check_currency

from .lead import Lead


class DecisionKind(models.TextChoices):
    """The outcome: the lead's own, or (turned away) the agency's."""

    ENGAGED = "engaged", "engaged"
    NO_BUDGET = "no budget yet", "no budget yet"
    DECLINED = "declined", "declined"
    QUIET = "gone quiet", "gone quiet"
    TURNED_AWAY = "turned away", "turned away"


# Somebody said no. "No budget yet" and "gone quiet" leave a lead open.
CLOSED_BY = frozenset({DecisionKind.DECLINED, DecisionKind.TURNED_AWAY})
# Nothing more is to be done to win the lead.
ENDS_WORK = CLOSED_BY | {DecisionKind.ENGAGED}


class Decision(TeamOwned, Recorded, Versioned):
    """The outcome recorded, with its day."""

    lead = models.ForeignKey(Lead, models.CASCADE, related_name="decisions")
    kind = models.CharField("decision", max_length=14, choices=DecisionKind)
    day = models.DateField()
    reason = models.TextField(blank=True)
    # Of an engagement; NULL: not known.
    fee = AmountField(null=True, blank=True)
    currency = models.CharField(max_length=3, blank=True, validators=[check_currency])
    # Of "no budget yet": the day, or the first of the month, for which money is expected.
    # NULL: not known.
    funding_expected_on = models.DateField("money expected", null=True, blank=True)
    # Whether only the month of funding_expected_on is meant.
    expected_by_month = models.BooleanField(default=True, editable=False)
    funding_from = models.CharField("money from", max_length=200, blank=True)

    objects: Any = TeamQuerySet["Decision"].as_manager()

    class Meta:
        ordering = ["day", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["team", "lead", "kind", "day"], name="decision_unique"
            ),
            models.CheckConstraint(
                condition=Q(fee=None) | Q(kind=DecisionKind.ENGAGED), name="fee_of_engagement"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} on {self.day}"


class Proposal(TeamOwned, Recorded, Versioned):
    """An offer sent to the lead."""

    lead = models.ForeignKey(Lead, models.CASCADE, related_name="proposals")
    sent_on = models.DateField("day sent")
    fee = AmountField(null=True, blank=True)
    currency = models.CharField(max_length=3, blank=True, validators=[check_currency])
    note = models.TextField(blank=True)

    objects: Any = TeamQuerySet["Proposal"].as_manager()

    class Meta:
        ordering = ["sent_on", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["team", "lead", "sent_on"], name="proposal_unique")
        ]

    def __str__(self) -> str:
        return f"proposal of {self.sent_on}"


class Funding(TeamOwned, Recorded, Versioned):
    """Money arrived at the lead."""

    lead = models.ForeignKey(Lead, models.CASCADE, related_name="fundings")
    arrived_on = models.DateField("day it arrived")
    note = models.TextField(blank=True)

    objects: Any = TeamQuerySet["Funding"].as_manager()

    class Meta:
        ordering = ["arrived_on", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["team", "lead", "arrived_on"], name="funding_unique")
        ]

    def __str__(self) -> str:
        return f"funding on {self.arrived_on}"
