"""How many of those without a budget came back, when, what they brought, and who earned it.

The curve can't be told on a day on which nobody is at risk, unless it has ended; a median only
where half had returned, which with closes competing may never be; a mean only up to a day that
the curve reaches.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from pipeline.results.cohort import Cause, Cohort
from pipeline.results.figures.readings import (
    LEVEL,
    IncidenceAt,
    Mean,
    Median,
    Rate,
    mean_lost,
    mean_within,
    rate,
    read,
    read_median,
    share_of_sums,
)
from pipeline.results.questions.earned import Earned, Fees, earned, fees
from pipeline.results.questions.returns import WaitDay, waits_by_day, waits_since_funding
from pipeline.stats.incidence import Incidence, from_counts

# Days since "no budget yet" at which the incidence of return is read.
HORIZONS = (90, 180, 365, 730)
# Days since the money arrived.
FUNDED_HORIZONS = (30, 90, 180, 365)
# Returns on one page of their list.
PAGE = 50


@dataclass(frozen=True)
class Waiting:
    """How a wait of at most `until` days is spent, in days on average.

    The three add up to `until`: waiting, then returned, or closed.
    """

    until: int
    waiting: Mean
    returned: Mean
    closed: Mean


@dataclass(frozen=True)
class DelayedReturn:
    """Of the leads that said "no budget yet": what they did since.

    `off_curve` counts those followed only since a day on or after their last: they are in the
    counts, but were never at risk while the team looked.
    """

    started: int
    returned: int
    waiting: int
    closed: int
    off_curve: int
    incidence: tuple[IncidenceAt, ...]
    # The competing cause on the same days.
    closing: tuple[IncidenceAt, ...]
    median: Median
    # None: the curve does not reach the first of HORIZONS.
    mean: Waiting | None
    # Causes: Cause.ENGAGED (returned) and Cause.CLOSED.
    curve: Incidence = field(repr=False, compare=False)


@dataclass(frozen=True)
class SinceFunding:
    """Of the leads whose money arrived while they waited: how soon they engaged."""

    funded: int
    engaged: int
    waiting: int
    closed: int
    off_curve: int
    incidence: tuple[IncidenceAt, ...]
    median: Median
    curve: Incidence = field(repr=False, compare=False)


@dataclass(frozen=True)
class FeeShare:
    """What engagements brought in one currency, and the share that returns brought.

    `share` is None where the fees add up to nothing.
    """

    currency: str
    engaged: int
    returned: int
    total: Decimal
    of_returns: Decimal
    share: Rate


@dataclass(frozen=True)
class ReturnShare:
    """What part of all engagements, and of all fees, were returns."""

    engaged: int
    returned: int
    share: Rate
    # One for each currency, never added up.
    fees: tuple[FeeShare, ...]
    # Engagements with no fee noted: in the first share and in none of the others.
    without_fee: int


@dataclass(frozen=True)
class EarnedPage:
    """A page of the returns, the newest first."""

    total: int
    offset: int
    returns: tuple[Earned, ...]


def delayed_return(cohort: Cohort) -> DelayedReturn:
    """Compute the wait of everybody without a budget, by one query."""
    days = waits_by_day(cohort)
    curve = _curve(days)
    started, returned, closed = _counts(days)
    return DelayedReturn(
        started=started,
        returned=returned,
        waiting=started - returned - closed,
        closed=closed,
        off_curve=started - sum(row.seen for row in days),
        incidence=tuple(read(curve, at, Cause.ENGAGED) for at in HORIZONS),
        closing=tuple(read(curve, at, Cause.CLOSED) for at in HORIZONS),
        median=read_median(curve, Cause.ENGAGED),
        mean=_waiting(days, curve),
        curve=curve,
    )


def since_funding(cohort: Cohort) -> SinceFunding:
    """Compute the time from funding to engagement, by one query."""
    days = waits_since_funding(cohort)
    curve = _curve(days)
    funded, engaged, closed = _counts(days)
    return SinceFunding(
        funded=funded,
        engaged=engaged,
        waiting=funded - engaged - closed,
        closed=closed,
        off_curve=funded - sum(row.seen for row in days),
        incidence=tuple(read(curve, at, Cause.ENGAGED) for at in FUNDED_HORIZONS),
        median=read_median(curve, Cause.ENGAGED),
        curve=curve,
    )


def return_share(cohort: Cohort) -> ReturnShare:
    """Compute what part of engagements and fees were returns, by one query."""
    found = fees(cohort)
    engaged, returned = sum(row.engaged for row in found), sum(row.returned for row in found)
    return ReturnShare(
        engaged=engaged,
        returned=returned,
        share=rate(returned, engaged),
        fees=tuple(_fee_share(row.currency, row) for row in found if row.currency is not None),
        without_fee=sum(row.engaged for row in found if row.currency is None),
    )


def returns_page(cohort: Cohort, total: int, *, offset: int = 0, limit: int = PAGE) -> EarnedPage:
    """Read a page of the `total` returns, by one query."""
    return EarnedPage(total, offset, tuple(earned(cohort, limit=limit, offset=offset)))


def _counts(days: Sequence[WaitDay]) -> tuple[int, int, int]:
    return (
        sum(row.exits for row in days),
        sum(row.returned for row in days),
        sum(row.closed for row in days),
    )


def _curve(days: Sequence[WaitDay]) -> Incidence:
    return from_counts(
        [row.day for row in days],
        [row.seen for row in days],
        [[row.seen_returned for row in days], [row.seen_closed for row in days]],
        [row.entered for row in days],
        level=LEVEL,
    )


def _waiting(days: Sequence[WaitDay], curve: Incidence) -> Waiting | None:
    """Up to the largest of HORIZONS that the curve reaches."""
    until = next((at for at in reversed(HORIZONS) if curve.told_on(at)), None)
    if until is None or not curve.days.size:
        return None
    ended = from_counts(
        [row.day for row in days],
        [row.seen for row in days],
        [row.seen_returned + row.seen_closed for row in days],
        [row.entered for row in days],
        level=LEVEL,
    )
    lost, se = ended.restricted_mean(1, until)
    return Waiting(
        until=until,
        waiting=mean_within(until - lost, se, until),
        returned=mean_lost(curve, Cause.ENGAGED, until),
        closed=mean_lost(curve, Cause.CLOSED, until),
    )


def _fee_share(currency: str, row: Fees) -> FeeShare:
    if row.total:
        limits = share_of_sums(
            float(row.total), float(row.of_returns), row.squares, row.squares_of_returns
        )
        share = Rate(float(row.of_returns / row.total), *limits)
    else:
        share = Rate(None, None, None)
    return FeeShare(currency, row.engaged, row.returned, row.total, row.of_returns, share)
