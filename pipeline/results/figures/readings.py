"""Shares with their intervals, and what is read off a curve on a day."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import isnan
from statistics import NormalDist

from pipeline.results.telling import TOO_WIDE
from pipeline.stats.incidence import Incidence
from pipeline.stats.proportions import score_limits, wilson_interval

LEVEL = 0.95
Z = NormalDist().inv_cdf(0.5 + LEVEL / 2)


@dataclass(frozen=True)
class Rate:
    """A share with its interval; all `None` where there is nothing to share."""

    estimate: float | None
    low: float | None
    high: float | None
    level: float = LEVEL

    @property
    def told(self) -> bool:
        """Whether the interval says anything."""
        return within_reason(self.low, self.high)


@dataclass(frozen=True)
class IncidenceAt:
    """How many had left for a cause within so many days; `None` where it can't be told.

    `low` and `high` are None where nobody or everybody had; `effective`, Wilson's interval at the
    effective size, is there all the same.
    """

    days: int
    estimate: float | None
    se: float | None
    low: float | None
    high: float | None
    at_risk: int
    effective: tuple[float, float] | None = field(default=None, compare=False)

    @property
    def told(self) -> bool:
        """Whether the interval says anything."""
        low, high = self.effective or (self.low, self.high)
        return within_reason(low, high)


@dataclass(frozen=True)
class Mean:
    """A mean number of days, with its interval; `None` where it can't be told."""

    estimate: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True)
class Median:
    """The day by which half had left, with its limits; `None` where that is not reached."""

    day: int | None
    low: int | None
    high: int | None


def within_reason(low: float | None, high: float | None) -> bool:
    """Whether an interval of shares is there, and narrow enough to tell anything."""
    return low is not None and high is not None and high - low <= TOO_WIDE


def rate(part: int, whole: int) -> Rate:
    """A share of a count with Wilson's interval."""
    if not whole:
        return Rate(None, None, None)
    return Rate(part / whole, *wilson_interval(part, whole, LEVEL))


def share_of_sums(
    whole: float, part: float, squares: float, squares_of_part: float
) -> tuple[float, float]:
    """Limits of the share of a sum that belongs to some of its amounts: Wilson's at a size.

    The size is the smaller of two. Kish's, (sum)²/(sum of squares), says for how many equal
    amounts these would stand. The other is share·(1 - share)/variance, with the variance of a
    ratio of two sums over the same engagements by linearisation, (the sum of (amount·(1 or 0 -
    share))²) ÷ (sum)²; it knows whether it is the returns that are large, and is blind where one
    amount makes up most of the sum. With equal amounts both are the count.

    Source: Cochran WG, Sampling Techniques (3rd ed. 1977), section 2.11, for the ratio; Kish L,
    Survey Sampling (1965), for the size of unequal weights (places from memory). That Wilson's
    interval serves here is our own reckoning, held against redrawing the engagements.
    """
    share = part / whole
    size = whole**2 / squares
    if 0 < share < 1:
        others = squares - squares_of_part
        variance = (squares_of_part * (1 - share) ** 2 + others * share**2) / whole**2
        size = min(size, share * (1 - share) / variance)
    return score_limits(share, size, Z)


def read(curve: Incidence, days: int, cause: int) -> IncidenceAt:
    """Read a curve on a day, with its log-log interval."""
    estimate, se, low, high = (_told(value) for value in curve.at(days, cause))
    at_risk = curve.at_risk_on(days)
    effective = None if estimate is None else curve.effective_interval(days, cause)
    return IncidenceAt(days, estimate, se, low, high, at_risk, effective)


def read_effective(curve: Incidence, days: int, cause: int) -> IncidenceAt:
    """Read a curve on a day, with Wilson's interval at the effective size as its own."""
    found = read(curve, days, cause)
    low, high = found.effective or (None, None)
    return IncidenceAt(days, found.estimate, found.se, low, high, found.at_risk, found.effective)


def read_median(curve: Incidence, cause: int) -> Median:
    """The day by which half of all had left for a cause."""
    return Median(*curve.median(cause))


def mean_lost(curve: Incidence, cause: int, until: int) -> Mean:
    """The mean days before `until` that were lost to a cause."""
    return mean_within(*curve.restricted_mean(cause, until), until)


def mean_within(estimate: float, se: float, until: int) -> Mean:
    """A mean between 0 and `until`, with the normal interval cut to what is possible."""
    if isnan(estimate):
        return Mean(None, None, None)
    return Mean(estimate, max(0.0, estimate - Z * se), min(float(until), estimate + Z * se))


def _told(value: float) -> float | None:
    return None if isnan(value) else value
