"""How well such forecasts have held: the same forecast made on the first day of past quarters.

Each is made from the facts dated on or before its day, and held against what came in the 90 days
after it. A quarter on whose day it could not be told is shown and not counted.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from pipeline.clock.months import add_months
from pipeline.results.cohort import Cohort
from pipeline.results.figures.forecast import of_counts
from pipeline.results.figures.readings import LEVEL, Rate, rate
from pipeline.results.figures.side_by_side import LEAST_EVENTS
from pipeline.results.questions.waiting import Alike, came_back, first_wait, waits_alike

HORIZON = 90
# Five years: each quarter is asked for by itself.
MOST_QUARTERS = 20

RULES = (
    "On the first day of each past quarter, as far back as five years, the 90-day forecast is "
    "made again from the facts dated that day or earlier, and held against the returns of the 90 "
    "days after it. It held where the number lies in the interval, both ends included.",
    "An interval at 95% should hold in about 19 of 20 quarters; counts are whole, so it may hold "
    "rather more often. The share that held has Wilson's interval; under ten quarters it can't be "
    "told yet whether the forecasts are sound. Facts entered late count here as if they had been "
    "known on their own day.",
)


@dataclass(frozen=True)
class Replay:
    """One quarter's forecast and what came; `None` where it could not be told on its day."""

    day: date
    waiting: int
    expected: float | None
    low: int | None
    high: int | None
    returned: int

    @property
    def held(self) -> bool | None:
        """Whether the interval held; `None` where there was none."""
        if self.low is None or self.high is None:
            return None
        return self.low <= self.returned <= self.high


@dataclass(frozen=True)
class Backtest:
    """The replayed quarters, the earliest first, and how often the interval held."""

    days: int
    level: float
    replays: tuple[Replay, ...]
    told: int
    held: int
    held_rate: Rate

    @property
    def enough(self) -> bool:
        """Whether so many quarters could be replayed that anything is said about the forecasts."""
        return self.told >= LEAST_EVENTS


def backtest(cohort: Cohort) -> Backtest:
    """Compute the figure, in two queries a quarter and one more."""
    started = first_wait(cohort)
    days = [] if started is None else quarters(started, cohort.as_of)
    return of_replays(
        replay(
            day,
            waits_alike(replace(cohort, as_of=day)),
            came_back(replace(cohort, as_of=day + timedelta(days=HORIZON)), day),
        )
        for day in days
    )


def quarters(started: date, as_of: date) -> list[date]:
    """The first days of quarters after `started` whose 90 days are over by `as_of`."""
    day = date(started.year, 3 * ((started.month - 1) // 3) + 1, 1)
    found = []
    while day <= started and day < date.max:
        day = add_months(day, 3)
    while day.toordinal() + HORIZON <= as_of.toordinal():
        found.append(day)
        day = add_months(day, 3)
    return found[-MOST_QUARTERS:]


def replay(day: date, alike: Sequence[Alike], came: int) -> Replay:
    """Make the forecast of one day from its counts, and set what came beside it."""
    found = of_counts(alike, (), [HORIZON])
    [ahead] = found.ahead
    return Replay(day, found.waiting, ahead.expected, ahead.low, ahead.high, came)


def of_replays(replays: Iterable[Replay]) -> Backtest:
    """Count how often the interval held."""
    found = tuple(replays)
    told = [one for one in found if one.held is not None]
    held = sum(bool(one.held) for one in told)
    return Backtest(HORIZON, LEVEL, found, len(told), held, rate(held, len(told)))
