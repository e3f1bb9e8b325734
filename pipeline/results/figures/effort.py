"""Whether the free hours pay: hours a session, an engagement and a fee, and fees an hour.

Hours are the minutes noted on held sessions: preparing, running, writing up. Leads with a held
session on which nothing was noted are left out of everything but hours a session, so that the
same leads stand above and below the line. A team's fees are those noted with the engagements
that decided, added up only within one currency.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from math import isfinite, isnan
from statistics import median

from pipeline.clock.zones import week_of
from pipeline.results.cohort import Cohort
from pipeline.results.figures.readings import LEVEL
from pipeline.results.figures.side_by_side import LEAST_EVENTS
from pipeline.results.questions.effort import DayOfEffort, effort_by_day, minutes_by_day
from pipeline.results.rates.converting import ByMonth, Converted, in_one_currency, rates_into
from pipeline.stats.ratio import ratio_interval
from pipeline.teams.money import PLACES

DRAWS, SEED = 2000, 1
WEEKS = 13
HOUR = 60

RULES = (
    "Hours are the minutes noted on held sessions: preparing, running and writing up. Hours a "
    "session are those of all noted sessions; for the rest only leads count whose held sessions "
    "all have minutes noted.",
    "Hours an engagement are all hours given to those leads, engaged or not, divided by their "
    "engagements. It is “at most, so far”: open leads may still come. Fees are those noted with "
    "the engagement that decided; an engagement without a noted fee brings none here, so fees an "
    "hour are “at least, so far”.",
    "Fees are added up only within one currency. Amounts in the team's currency are converted "
    "only by rates that the team entered for the month of the engagement, each shown; where one "
    "is missing there is no converted figure.",
    "The interval is a bootstrap at 95%: days on which leads had their first session are drawn "
    "with replacement, with all that was given and all that came of that day's leads, 2,000 "
    "times. With fewer than ten sessions noted, or ten engagements (for fees: ten fees in the "
    "currency), it can't be told yet.",
    "A week's hours are the booked length of the sessions held in it, as when booking; they are "
    "those of the whole team, whatever is filtered.",
)


@dataclass(frozen=True)
class Ratio:
    """One thing for each unit of another; `None` where it can't be told.

    `high` alone is `None` where so few are below the line that no limit can be put.
    """

    estimate: float | None
    low: float | None
    high: float | None
    # Sessions, engagements or fees that it rests on; under LEAST_EVENTS nothing is told.
    events: int
    level: float = LEVEL

    @property
    def told(self) -> bool:
        """Whether it rests on enough."""
        return self.estimate is not None and self.events >= LEAST_EVENTS


@dataclass(frozen=True)
class FeesAnHour:
    """Fees in one currency for each free hour given to all the leads."""

    currency: str
    fees: int
    total: Decimal
    an_hour: Ratio


@dataclass(frozen=True)
class Week:
    """A week by its Monday, and the minutes of the sessions held in it."""

    monday: date
    minutes: int


@dataclass(frozen=True)
class Weeks:
    """The last weeks to the cohort's day, the last of them perhaps not over."""

    limit: int
    weeks: tuple[Week, ...]

    @property
    def over(self) -> int:
        """In how many weeks more was given than the limit."""
        return sum(week.minutes > self.limit for week in self.weeks)

    @property
    def usual(self) -> float:
        """The median week's minutes."""
        return median(week.minutes for week in self.weeks)


@dataclass(frozen=True)
class Effort:
    """What was given, and what it brought."""

    # Leads that count; those whose held sessions all have minutes noted, and their engagements.
    leads: int
    complete: int
    engaged: int
    # Of these engagements, those with no fee noted, or one of nothing.
    without_fee: int
    # Held sessions of leads that count; those noted, and their minutes.
    sessions: int
    noted: int
    minutes: int
    hours_a_session: Ratio
    hours_an_engagement: Ratio
    hours_a_fee: Ratio
    fees_an_hour: tuple[FeesAnHour, ...]
    # All fees in the team's currency by its own rates; None where all are in it already.
    converted: Converted | None
    # None where `converted` is, or has no total.
    converted_an_hour: FeesAnHour | None
    weeks: Weeks


def effort(cohort: Cohort) -> Effort:
    """Compute the figure, in three queries."""
    days = effort_by_day(cohort)
    rates = rates_into(cohort.team)
    return of_days(days, cohort.team.currency, rates, weeks_to(cohort))


def of_days(days: Sequence[DayOfEffort], own: str, rates: ByMonth, weeks: Weeks) -> Effort:
    """Compute the figure from what was given and brought by index day."""
    complete = [row for row in days if row.complete]
    engaged = sum(row.engaged for row in complete)
    with_fee = sum(row.with_fee for row in complete)

    def hours(rows: Sequence[DayOfEffort], unit: str) -> Ratio:
        """Hours for each unit."""
        return _ratio(
            rows,
            lambda row: row.minutes / HOUR,
            lambda row: float(getattr(row, unit)),
            sum(getattr(row, unit) for row in rows),
        )

    converted = in_one_currency(_by_month(complete), own, rates)
    return Effort(
        leads=sum(row.leads for row in days),
        complete=sum(row.leads for row in complete),
        engaged=engaged,
        without_fee=engaged - with_fee,
        sessions=sum(row.sessions for row in days),
        noted=sum(row.noted for row in days),
        minutes=sum(row.minutes for row in days),
        hours_a_session=hours(days, "noted"),
        hours_an_engagement=hours(complete, "engaged"),
        hours_a_fee=hours(complete, "with_fee"),
        fees_an_hour=tuple(
            _fees_an_hour(complete, code, _only(code))
            for code in sorted({row.currency for row in complete if row.currency})
        ),
        converted=converted,
        converted_an_hour=_converted_an_hour(complete, converted, own, rates),
        weeks=weeks,
    )


def weeks_to(cohort: Cohort) -> Weeks:
    """Return the last weeks of the whole team, the cohort's own among them."""
    monday, _ = week_of(cohort.as_of)
    first = max(monday.toordinal() - 7 * (WEEKS - 1), 1)
    start = date.fromordinal(first)
    by_week: Counter[date] = Counter()
    for day, minutes in minutes_by_day(cohort.team, start, cohort.as_of).items():
        by_week[week_of(day)[0]] += minutes
    count = (monday - start).days // 7 + 1
    mondays = [monday - timedelta(days=7 * back) for back in reversed(range(count))]
    return Weeks(
        limit=cohort.team.weekly_free_minutes,
        weeks=tuple(Week(day, by_week[day]) for day in mondays),
    )


def _by_month(days: Sequence[DayOfEffort]) -> dict[tuple[str, date], Decimal]:
    sums: dict[tuple[str, date], Decimal] = defaultdict(Decimal)
    for row in days:
        if row.currency and row.month and row.fees:
            sums[row.currency, row.month] += row.fees
    return sums


def _converted_an_hour(
    days: Sequence[DayOfEffort], converted: Converted | None, own: str, rates: ByMonth
) -> FeesAnHour | None:
    if converted is None or converted.total is None:
        return None

    def factor(row: DayOfEffort) -> Decimal:
        if row.currency == own:
            return Decimal(1)
        return rates[row.currency, row.month] if row.currency and row.month else Decimal(0)

    return _fees_an_hour(days, own, factor)


def _only(currency: str) -> Callable[[DayOfEffort], Decimal]:
    return lambda row: Decimal(row.currency == currency)


def _fees_an_hour(
    days: Sequence[DayOfEffort], currency: str, factor: Callable[[DayOfEffort], Decimal]
) -> FeesAnHour:
    """Fees by the factor of each row, for each hour given to the leads of all rows."""
    worth = {id(row): row.fees * factor(row) if row.fees else Decimal(0) for row in days}
    fees = sum(row.with_fee for row in days if worth[id(row)])
    return FeesAnHour(
        currency=currency,
        fees=fees,
        total=sum(worth.values(), Decimal(0)).quantize(Decimal(1).scaleb(-PLACES)),
        an_hour=_ratio(
            days, lambda row: float(worth[id(row)]), lambda row: row.minutes / HOUR, fees
        ),
    )


def _ratio(
    rows: Sequence[DayOfEffort],
    above: Callable[[DayOfEffort], float],
    below: Callable[[DayOfEffort], float],
    events: int,
) -> Ratio:
    """Divide the sums; the rows of one index day are drawn together."""
    tops: dict[date, float] = defaultdict(float)
    bottoms: dict[date, float] = defaultdict(float)
    for row in sorted(rows, key=lambda row: row.day):
        tops[row.day] += above(row)
        bottoms[row.day] += below(row)
    estimate, low, high = ratio_interval(
        list(tops.values()), list(bottoms.values()), level=LEVEL, draws=DRAWS, seed=SEED
    )
    if isnan(estimate):
        return Ratio(None, None, None, events)
    if events < LEAST_EVENTS:
        return Ratio(estimate, None, None, events)
    return Ratio(
        estimate, low if isfinite(low) else None, high if isfinite(high) else None, events
    )
