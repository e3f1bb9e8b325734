"""Everything that a review is written from, computed once."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.results.cohort import BY_ATTENDEES, BY_SOURCE, Cohort
from pipeline.results.figures.conversion import Conversion, conversion
from pipeline.results.figures.effort import Effort, effort
from pipeline.results.figures.forecast import Forecast, forecast
from pipeline.results.figures.promises import Promises, promises
from pipeline.results.figures.returns import (
    DelayedReturn,
    ReturnShare,
    SinceFunding,
    delayed_return,
    return_share,
    since_funding,
)
from pipeline.results.figures.side_by_side import SideBySide, side_by_side
from pipeline.results.figures.waiting import LEAST_RETURNS, Waiting, waiting
from pipeline.results.quarter import Quarter, quarter
from pipeline.results.questions.waiting import Order

# Leads named to be written to.
NAMED = 3


@dataclass(frozen=True)
class Reading:
    """A team's figures as of a day, and its last three months."""

    cohort: Cohort
    quarter: Quarter
    formats: Conversion
    sources: Conversion
    attendees: Conversion
    compared: tuple[SideBySide, ...]
    returns: DelayedReturn
    since_funding: SinceFunding
    return_share: ReturnShare
    effort: Effort
    promises: Promises
    waiting: Waiting
    forecast: Forecast

    @property
    def begun(self) -> bool:
        """Whether any session was held, so that there is something to review."""
        return bool(self.formats.overall.leads_with_session or self.formats.left_out)


def read(cohort: Cohort) -> Reading:
    """Compute all figures."""
    grouped = [
        conversion(cohort, grouping) for grouping in (cohort.by_format, BY_SOURCE, BY_ATTENDEES)
    ]
    returns = delayed_return(cohort)
    # Where no chance can be told yet, the month in which money is expected says more.
    told = int(returns.curve.events[0].sum()) >= LEAST_RETURNS
    return Reading(
        cohort=cohort,
        quarter=quarter(cohort),
        formats=grouped[0],
        sources=grouped[1],
        attendees=grouped[2],
        compared=tuple(map(side_by_side, grouped)),
        returns=returns,
        since_funding=since_funding(cohort),
        return_share=return_share(cohort),
        effort=effort(cohort),
        promises=promises(cohort),
        waiting=waiting(cohort, Order.WORTH if told else Order.MONTH, limit=NAMED),
        forecast=forecast(cohort),
    )
