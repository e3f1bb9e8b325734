"""How many of those who wait will return within 90 and 180 days, and what that brings.

A floor: leads whose waiting time will pass the longest that anybody was followed count only up
to there. It can't be told before five leads had returned, or where nobody waits.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from pipeline.results.cohort import Cause, Cohort
from pipeline.results.figures.readings import LEVEL
from pipeline.results.figures.waiting import enough, returned
from pipeline.results.questions.waiting import Alike, Fees, expected_fees, waits_alike
from pipeline.stats import forecast as stats
from pipeline.teams.money import PLACES

HORIZONS = (90, 180)
DRAWS, SEED = 2000, 1

RULES = (
    "Expected is the sum over the waiting leads of each one's chance to return within so many "
    "days, given how long it has waited, from the curve of delayed return; and of chance × "
    "expected fee, within one currency. Leads that have not said “no budget yet” are no part of "
    "it.",
    "The interval is a predictive interval at 95%: the record's leads are drawn with replacement "
    "2,000 times, the curve is made anew each time, and each waiting lead then returns or not by "
    "its new chance. So it carries the luck of the leads and what is not known of the curve. It "
    "takes leads to be independent, the future to be like the past, and the fees to be those "
    "expected.",
    "Waiting leads that will have waited longer than anybody was followed count only up to there, "
    "so “expected” is a floor for them. Before five leads had returned, and where nobody waits, "
    "it can't be told yet.",
)


@dataclass(frozen=True)
class ExpectedFees:
    """Fees to come in one currency, of the waiting leads whose expected fee is noted."""

    currency: str
    leads: int
    expected: Decimal | None
    low: Decimal | None
    high: Decimal | None


@dataclass(frozen=True)
class Ahead:
    """Returns within so many days; `None` where they can't be told."""

    days: int
    expected: float | None
    low: int | None
    high: int | None
    # Waiting leads that will have waited longer by then than anybody was followed.
    beyond: int
    fees: tuple[ExpectedFees, ...]
    level: float = LEVEL


@dataclass(frozen=True)
class Forecast:
    """What may come of those who wait now."""

    waiting: int
    returned: int
    # Waiting leads with no expected fee noted: in the returns and in no fees.
    without_fee: int
    told: bool
    ahead: tuple[Ahead, ...]


def forecast(cohort: Cohort) -> Forecast:
    """Compute the figure, in two queries."""
    return of_counts(waits_alike(cohort), expected_fees(cohort))


def of_counts(
    alike: Sequence[Alike], fees: Sequence[Fees], horizons: Sequence[int] = HORIZONS
) -> Forecast:
    """Compute the figure from counts by day."""
    ages = waiting_ages(alike)
    told = enough(alike) and bool(ages)
    return Forecast(
        waiting=sum(ages.values()),
        returned=returned(alike),
        without_fee=sum(row.leads for row in fees if row.currency is None),
        told=told,
        ahead=tuple(_ahead(alike, ages, fees, days, told) for days in horizons),
    )


def waiting_ages(alike: Sequence[Alike]) -> dict[int, int]:
    """How many wait by how long they have waited, followed late or not."""
    ages: dict[int, int] = {}
    for row in alike:
        if row.cause == Cause.OPEN:
            ages[row.waited] = ages.get(row.waited, 0) + row.leads
    return ages


def outlook(alike: Sequence[Alike], waiting: stats.Waiting, days: int) -> stats.Outlook:
    """What comes of those who wait within so many days, by the record of all."""
    seen = [row for row in alike if row.on_curve]
    return stats.from_counts(
        [row.waited for row in seen],
        [row.cause for row in seen],
        [row.entry for row in seen],
        [row.leads for row in seen],
        waiting,
        days,
        cause=Cause.ENGAGED,
        level=LEVEL,
        draws=DRAWS,
        seed=SEED,
    )


def without_fees(ages: dict[int, int]) -> stats.Waiting:
    """Those who wait, as their returns alone are forecast."""
    nothing = [0.0] * len(ages)
    return stats.Waiting(list(ages), list(ages.values()), nothing, nothing)


def _ahead(
    alike: Sequence[Alike], ages: dict[int, int], fees: Sequence[Fees], days: int, told: bool
) -> Ahead:
    returns = outlook(alike, without_fees(ages), days).returns
    currencies = sorted({row.currency for row in fees if row.currency is not None})
    return Ahead(
        days=days,
        expected=returns.expected if told else None,
        low=returns.low if told else None,
        high=returns.high if told else None,
        beyond=returns.beyond,
        fees=tuple(
            _fees(alike, [row for row in fees if row.currency == currency], days, told)
            for currency in currencies
        ),
    )


def _fees(alike: Sequence[Alike], rows: Sequence[Fees], days: int, told: bool) -> ExpectedFees:
    currency, leads = rows[0].currency or "", sum(row.leads for row in rows)
    if not told:
        return ExpectedFees(currency, leads, None, None, None)
    found = outlook(
        alike,
        stats.Waiting(
            [row.waited for row in rows],
            [row.leads for row in rows],
            [float(row.total) for row in rows],
            [row.squares for row in rows],
        ),
        days,
    )
    return ExpectedFees(
        currency, leads, _amount(found.expected), _amount(found.low), _amount(found.high)
    )


def _amount(value: float) -> Decimal:
    return Decimal(value).quantize(Decimal(1).scaleb(-PLACES))
