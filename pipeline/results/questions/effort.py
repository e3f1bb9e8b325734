"""The team's minutes on held sessions, and what they brought: one row an index day and group."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any, NamedTuple

from django.db.models import Sum

from pipeline.results.cohort import Cohort
from pipeline.results.sql import as_amount, as_day, thousandths
from pipeline.teams.models import Team
from sessions.models import DiscoverySession, State

PARTS = ("effort_before", "effort_during", "effort_after", "effort_unsplit")
NOTED = f"COALESCE({', '.join(PARTS)}) IS NOT NULL"
MINUTES = " + ".join(f"COALESCE({part}, 0)" for part in PARTS)


class DayOfEffort(NamedTuple):
    """Leads that count with one index day, alike in the next three."""

    day: date
    # Whether minutes were noted on each of their held sessions.
    complete: bool
    # Of the fee, and the first day of the month in which they engaged; None: no fee.
    currency: str | None
    month: date | None
    leads: int
    engaged: int
    # Of the engaged, those whose fee is known and above nothing; and the fees' sum.
    with_fee: int
    fees: Decimal
    # Held sessions by the cohort's day; those with minutes noted, and the minutes.
    sessions: int
    noted: int
    minutes: int


def effort_by_day(cohort: Cohort) -> list[DayOfEffort]:
    """Return what was given to leads that count, and the fees of those that engaged."""
    rows = cohort.ask(
        f"""
        , given AS (
            SELECT lead_id, COUNT(*) AS sessions, COUNT(*) FILTER (WHERE {NOTED}) AS noted,
                SUM({MINUTES}) AS minutes
            FROM {DiscoverySession._meta.db_table}
            WHERE team_id = %(team)s AND state = '{State.HELD.value}' AND day <= %(as_of)s
            GROUP BY lead_id
        )
        SELECT index_day, CASE WHEN noted = sessions THEN 1 ELSE 0 END,
            CASE WHEN fee IS NOT NULL THEN fee_currency END,
            CASE WHEN fee IS NOT NULL THEN SUBSTR(CAST(engaged_on AS TEXT), 1, 7) END,
            COUNT(*), COUNT(*) FILTER (WHERE cause = 1), COUNT(*) FILTER (WHERE fee > 0),
            SUM({thousandths("fee")}), SUM(sessions), SUM(noted), SUM(minutes)
        FROM counted
        JOIN given ON given.lead_id = counted.lead_id
        GROUP BY 1, 2, 3, 4
        """
    )
    return [_day(*row) for row in rows]


def _day(
    day: Any, complete: int, currency: str | None, month: str | None, *counts: Any
) -> DayOfEffort:
    leads, engaged, with_fee, fees, sessions, noted, minutes = counts
    first = as_day(day)
    assert first is not None
    return DayOfEffort(
        day=first,
        complete=bool(complete),
        currency=currency,
        month=date.fromisoformat(f"{month}-01") if month else None,
        leads=leads,
        engaged=engaged,
        with_fee=with_fee,
        fees=as_amount(fees) or Decimal(0),
        sessions=int(sessions),
        noted=int(noted),
        minutes=int(minutes),
    )


def minutes_by_day(team: Team, first: date, last: date) -> dict[date, int]:
    """Return the minutes of all sessions held on each day, as booking counts them."""
    held = DiscoverySession.objects.for_team(team).held().in_days(first, last)
    rows = held.order_by().values_list("day").annotate(Sum("minutes"))
    return dict(rows)
