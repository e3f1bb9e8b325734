"""How long after its session a lead engaged or closed: one row a day and group."""

from __future__ import annotations

from datetime import date
from typing import NamedTuple

from pipeline.results.cohort import Cohort, Grouping
from pipeline.results.sql import as_parameter

# Days since the session at which conversion is read.
HORIZONS = (30, 90, 180, 365)


class Day(NamedTuple):
    """Leads of one group that engaged, closed or were last seen open so many days after."""

    day: int
    # All of them; the next two are parts of it.
    exits: int
    engaged: int
    closed: int
    # Part of `closed`: engaged later.
    reopened: int
    # No part of `exits`: decided before their session. On day 0.
    left_out: int
    # One for each of HORIZONS: held at least so many days before `as_of`; and those of them that
    # engaged within so many days.
    followed: tuple[int, ...]
    followed_engaged: tuple[int, ...]


def conversion_by_day(cohort: Cohort, grouping: Grouping) -> dict[str | None, list[Day]]:
    """Return the days of each group by its name, `None` for not known."""
    held_before = [
        f"COUNT(*) FILTER (WHERE cause >= 0 AND index_day < %(before_{days})s)"
        for days in HORIZONS
    ]
    engaged_within = [
        f"COUNT(*) FILTER (WHERE cause = 1 AND days <= {days} AND index_day < %(before_{days})s)"
        for days in HORIZONS
    ]
    rows = cohort.ask(
        f"""
        SELECT CAST({grouping.name} AS TEXT), days,
            COUNT(*) FILTER (WHERE cause >= 0),
            COUNT(*) FILTER (WHERE cause = 1),
            COUNT(*) FILTER (WHERE cause = 2),
            COUNT(*) FILTER (WHERE cause = 2 AND engaged_on IS NOT NULL),
            COUNT(*) FILTER (WHERE cause < 0),
            {", ".join(held_before)},
            {", ".join(engaged_within)}
        FROM entered
        GROUP BY 1, 2
        """,
        **{f"before_{days}": as_parameter(_after(cohort.as_of, days)) for days in HORIZONS},
    )
    groups: dict[str | None, list[Day]] = {}
    half = len(HORIZONS)
    for name, day, exits, engaged, closed, reopened, left_out, *followed in rows:
        by_horizon = tuple(followed[:half]), tuple(followed[half:])
        groups.setdefault(name, []).append(
            Day(day, exits, engaged, closed, reopened, left_out, *by_horizon)
        )
    return groups


def _after(as_of: date, days: int) -> date:
    """The first day that is not so many days before `as_of`; where the calendar ends, its end."""
    return date.fromordinal(max(1, as_of.toordinal() - days + 1))
