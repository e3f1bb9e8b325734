"""What is told of the team's work: hours, promises, who waits, what to expect, and the crew."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.results.cohort import Cohort
from pipeline.results.figures.backtest import Backtest, backtest
from pipeline.results.figures.crew import Crew, crew
from pipeline.results.figures.effort import Effort, effort
from pipeline.results.figures.forecast import Forecast, forecast
from pipeline.results.figures.promises import Promises, promises
from pipeline.results.figures.waiting import Waiting, waiting


@dataclass(frozen=True)
class Work:
    """The figures of a team as of a day."""

    effort: Effort
    promises: Promises
    waiting: Waiting
    forecast: Forecast
    backtest: Backtest
    # None: whoever asks is no owner.
    crew: Crew | None


def work(cohort: Cohort, *, with_crew: bool) -> Work:
    """Compute all of them; `with_crew` only where an owner asks."""
    return Work(
        effort=effort(cohort),
        promises=promises(cohort),
        waiting=waiting(cohort),
        forecast=forecast(cohort),
        backtest=backtest(cohort),
        crew=crew(cohort) if with_crew else None,
    )
