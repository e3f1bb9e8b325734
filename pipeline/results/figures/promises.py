"""Whether what was promised went out on time, sessions missed, and what followed a takeaway.

How long until something went out is read from a curve, as a return is: what is still owed is
not counted as never sent, and what was waived competes.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from itertools import accumulate

from pipeline.clock.workdays import WorkCalendar
from pipeline.results.cohort import Cause, Cohort
from pipeline.results.figures.readings import (
    LEVEL,
    IncidenceAt,
    Median,
    Rate,
    rate,
    read_effective,
    read_median,
)
from pipeline.results.figures.side_by_side import LEAST_AT_RISK
from pipeline.results.questions.conversion import HORIZONS
from pipeline.results.questions.promises import (
    BANDS,
    DECIDED,
    NOT_SENT,
    Followed,
    Sent,
    after_sending,
    missed,
    sent_by_day,
)
from pipeline.stats.incidence import Incidence, from_counts
from sessions.models import State

RULES = (
    "On time is what was sent on its due day or before, of all that was promised at a held "
    "session and whose due day is over. What was waived on its due day or before no longer "
    "counts; waived later it counts as late. The interval is Wilson's at 95%; several things "
    "promised at one session are not independent, so it is rather too narrow.",
    "Working days to sending are counted from the session's day (the same day is 0, the next "
    "working day 1) in the team's own calendar. The median is read from the Aalen–Johansen curve: "
    "what is still owed is followed until the as-of day, and what was waived competes. Its "
    "interval is read off the curve's limits; where half was never reached it can't be told yet.",
    "Missed is missed ÷ (missed + held), of all the team's sessions, whatever is filtered. "
    "Cancelled sessions, and those not marked yet, are in neither.",
)
ASSOCIATION = (
    "Leads are put in groups by the days from their first session to the first thing sent after "
    "it, and followed from the day it was sent: whoever had decided by then, or was sent nothing, "
    "is in no group, since nobody could have engaged before and still have waited. Within so many "
    "days is the Aalen–Johansen incidence with Wilson's interval at the effective size, at the "
    "largest of 365, 180, 90 and 30 days that has at least ten at risk in each group; else it "
    "can't be told yet.",
    "This is an association and no cause: a keen lead may be written to sooner, and a busy week "
    "may slow both the takeaway and the sale.",
)


@dataclass(frozen=True)
class Band:
    """Leads to whom something was sent so many days after their session; `most` None: or more."""

    least: int
    most: int | None
    leads: int
    engaged: int
    # At the common horizon; None where there is none.
    within: IncidenceAt | None
    curve: Incidence = field(repr=False, compare=False)


@dataclass(frozen=True)
class AfterSending:
    """Conversion by days to the takeaway. `days` is the common horizon, None without one."""

    days: int | None
    bands: tuple[Band, ...]
    not_sent: int
    # Had decided before anything was sent.
    decided: int


@dataclass(frozen=True)
class Promises:
    """What was promised after sessions, and what became of sessions booked."""

    # Deliverables of held sessions; of these sent, waived, still owed.
    promised: int
    sent: int
    waived: int
    owed: int
    # Whose due day is over, and those of them sent in time.
    due: int
    on_time: int
    on_time_rate: Rate
    # Working days from session to sending.
    median: Median
    held: int
    missed: int
    cancelled: int
    # Booked on a day that is over, and not marked.
    unmarked: int
    missed_rate: Rate
    after_sending: AfterSending
    curve: Incidence = field(repr=False, compare=False)


def promises(cohort: Cohort) -> Promises:
    """Compute the figure, in three queries."""
    return of_counts(
        sent_by_day(cohort), missed(cohort), after_sending(cohort), cohort.team.calendar()
    )


def of_counts(
    sent: Sequence[Sent],
    states: dict[str, int],
    followed: Sequence[Followed],
    calendar: WorkCalendar,
) -> Promises:
    """Compute the figure from counts."""
    by_cause: Counter[int] = Counter()
    for row in sent:
        by_cause[row.cause] += row.deliverables
    due = sum(row.deliverables for row in sent if row.due)
    on_time = sum(row.deliverables for row in sent if row.on_time)
    curve = _to_sending(sent, calendar)
    held, gone = states[State.HELD], states[State.MISSED]
    return Promises(
        promised=by_cause.total(),
        sent=by_cause[1],
        waived=by_cause[2],
        owed=by_cause[0],
        due=due,
        on_time=on_time,
        on_time_rate=rate(on_time, due),
        median=read_median(curve, 1),
        held=held,
        missed=gone,
        cancelled=states[State.CANCELLED],
        unmarked=states[State.BOOKED],
        missed_rate=rate(gone, held + gone),
        after_sending=_after_sending(followed),
        curve=curve,
    )


def _to_sending(sent: Sequence[Sent], calendar: WorkCalendar) -> Incidence:
    """The curve of sending (1) and waiving (2) in working days since the session."""
    if not sent:
        return from_counts([], [], [[], []], level=LEVEL)
    first = min(row.held_on for row in sent)
    last = max(row.ended_on for row in sent)
    worked = _working_days(calendar, first, last)
    days = [
        worked[(row.ended_on - first).days] - worked[(row.held_on - first).days] for row in sent
    ]
    return from_counts(
        days,
        [row.deliverables for row in sent],
        [[row.deliverables if row.cause == cause else 0 for row in sent] for cause in (1, 2)],
        level=LEVEL,
    )


def _working_days(calendar: WorkCalendar, first: date, last: date) -> list[int]:
    """How many working days lie after `first` up to each day to `last`, counted once."""
    ahead = range(1, (last - first).days + 1)
    return [0, *accumulate(calendar.is_working(first + timedelta(days=n)) for n in ahead)]


def _after_sending(followed: Sequence[Followed]) -> AfterSending:
    curves = [_curve([row for row in followed if row.band == n]) for n in range(len(BANDS) + 1)]
    days = next(
        (
            at
            for at in reversed(HORIZONS)
            if all(curve.at_risk_on(at) >= LEAST_AT_RISK for curve in curves)
        ),
        None,
    )
    least = [0, *(most + 1 for most in BANDS)]
    return AfterSending(
        days=days,
        bands=tuple(
            Band(
                least=least[n],
                most=BANDS[n] if n < len(BANDS) else None,
                leads=sum(row.leads for row in followed if row.band == n),
                engaged=sum(
                    row.leads for row in followed if row.band == n and row.cause == Cause.ENGAGED
                ),
                within=None if days is None else read_effective(curve, days, Cause.ENGAGED),
                curve=curve,
            )
            for n, curve in enumerate(curves)
        ),
        not_sent=sum(row.leads for row in followed if row.band == NOT_SENT),
        decided=sum(row.leads for row in followed if row.band == DECIDED),
    )


def _curve(rows: Sequence[Followed]) -> Incidence:
    return from_counts(
        [row.day for row in rows],
        [row.leads for row in rows],
        [
            [row.leads if row.cause == cause else 0 for row in rows]
            for cause in (Cause.ENGAGED, Cause.CLOSED)
        ],
        level=LEVEL,
    )
