"""A month's exchange rate, as the team entered it."""

from __future__ import annotations

from typing import Any

from django.core.validators import MinValueValidator
from django.db import models

from pipeline.teams.models import TeamOwned, TeamQuerySet, Versioned
from pipeline.teams.money import check_currency

# Nine digits before the point, six after it: fifteen always come back from SQLite as they were.
MAX_DIGITS, PLACES = 15, 6


class ExchangeRate(TeamOwned, Versioned):
    """What one unit of `currency` was worth in `into`, in one month.

    The tool looks up no rates. Without one that the team entered, amounts of another currency
    stand by themselves.
    """

    # The first day of the month.
    month = models.DateField()
    currency = models.CharField(max_length=3, validators=[check_currency])
    # The team's currency when the rate was entered; it serves only while that is the team's.
    into = models.CharField(max_length=3, editable=False, validators=[check_currency])
    rate = models.DecimalField(
        max_digits=MAX_DIGITS, decimal_places=PLACES, validators=[MinValueValidator(0)]
    )

    objects: Any = TeamQuerySet["ExchangeRate"].as_manager()

    class Meta:
        ordering = ["-month", "currency", "into"]
        constraints = [
            models.UniqueConstraint(
                fields=["team", "currency", "into", "month"], name="rate_unique"
            ),
            models.CheckConstraint(condition=models.Q(rate__gt=0), name="rate_above_nothing"),
        ]

    def __str__(self) -> str:
        return f"1 {self.currency} = {self.rate.normalize():f} {self.into}"
