"""How long those without a budget waited: one row a day, for all and for the funded."""

from __future__ import annotations

from typing import NamedTuple

from pipeline.results.cohort import Cohort


class WaitDay(NamedTuple):
    """Leads whose wait ended, or was last seen, so many days after it began."""

    day: int
    # Of everybody who waited. `returned` and `closed` are parts of `exits`.
    exits: int
    returned: int
    closed: int
    # The same, of those that were ever at risk while the team followed them.
    seen: int
    seen_returned: int
    seen_closed: int
    # Of these, how many have this day as their entry: 0 from the start.
    entered: int


def waits_by_day(cohort: Cohort) -> list[WaitDay]:
    """Return the days of all waits, counted from "no budget yet"."""
    return _by_day(cohort, "SELECT waited AS lasted, entry, cause, on_curve FROM waits")


def waits_since_funding(cohort: Cohort) -> list[WaitDay]:
    """Return the days of the waits in which money arrived, counted from its day."""
    lasted = cohort.days("funded_on", "ended_on")
    entry = cohort.days("funded_on", "followed_since")
    return _by_day(
        cohort,
        f"""
        SELECT lasted, entry, cause,
            CASE WHEN entry = 0 OR entry < lasted THEN 1 ELSE 0 END AS on_curve
        FROM (
            SELECT {lasted} AS lasted, cause,
                CASE WHEN followed_since > funded_on THEN {entry} ELSE 0 END AS entry
            FROM with_funding
            WHERE funded_on <= ended_on
        ) funded
        """,
    )


def _by_day(cohort: Cohort, waits: str) -> list[WaitDay]:
    """Put who left and who entered on each day into one row."""
    rows = cohort.ask(
        f"""
        , wait AS ({waits})
        SELECT day, SUM(exits), SUM(returned), SUM(closed),
            SUM(seen), SUM(seen_returned), SUM(seen_closed), SUM(entered)
        FROM (
            SELECT lasted AS day, COUNT(*) AS exits,
                COUNT(*) FILTER (WHERE cause = 1) AS returned,
                COUNT(*) FILTER (WHERE cause = 2) AS closed,
                COUNT(*) FILTER (WHERE on_curve = 1) AS seen,
                COUNT(*) FILTER (WHERE on_curve = 1 AND cause = 1) AS seen_returned,
                COUNT(*) FILTER (WHERE on_curve = 1 AND cause = 2) AS seen_closed,
                0 AS entered
            FROM wait GROUP BY lasted
            UNION ALL
            SELECT entry, 0, 0, 0, 0, 0, 0, COUNT(*) FROM wait WHERE on_curve = 1 GROUP BY entry
        ) either
        GROUP BY day
        """
    )
    return [WaitDay(*map(int, row)) for row in rows]
