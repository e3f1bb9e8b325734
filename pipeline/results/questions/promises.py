"""What was promised after sessions and when it went out; missed sessions; what followed it."""

from __future__ import annotations

from datetime import date
from typing import NamedTuple

from django.db.models import Count, Q

from pipeline.results.cohort import Cohort
from pipeline.results.sql import as_day
from sessions.models import Deliverable, DiscoverySession, State

# Days from the index session to the first thing sent: at most so many in each band.
BANDS = (3, 7)


class Sent(NamedTuple):
    """Promised after sessions of one day, and sent, waived or last seen owed on another."""

    held_on: date
    ended_on: date
    # 0 still owed, 1 sent, 2 waived.
    cause: int
    # Whether the due day is over, and it was not waived by then.
    due: bool
    # Part of due: sent on the due day or before.
    on_time: bool
    deliverables: int


class Followed(NamedTuple):
    """Leads of one band that engaged, closed or were last seen open so many days after sending.

    `band` counts from 0 in the order of BANDS; `NOT_SENT` and `DECIDED` are no bands, and their
    day is 0.
    """

    band: int
    day: int
    cause: int
    leads: int


# Nothing was sent after the index session; or the lead had decided before the first went out.
NOT_SENT, DECIDED = -2, -1


def sent_by_day(cohort: Cohort) -> list[Sent]:
    """Return what was promised at held sessions of leads that pass the filters."""
    rows = cohort.ask(
        f"""
        , promised AS (
            SELECT session.day AS held_on, due_on,
                CASE WHEN sent_on <= %(as_of)s THEN sent_on END AS sent_on,
                CASE WHEN waived_on <= %(as_of)s THEN waived_on END AS waived_on
            FROM {Deliverable._meta.db_table} deliverable
            JOIN {DiscoverySession._meta.db_table} session ON session.id = deliverable.session_id
                AND session.state = '{State.HELD.value}' AND session.day <= %(as_of)s
            JOIN entered ON entered.lead_id = session.lead_id
            WHERE deliverable.team_id = %(team)s
        ), told AS (
            SELECT held_on, COALESCE(sent_on, waived_on, %(as_of)s) AS ended_on,
                CASE WHEN sent_on IS NOT NULL THEN 1 WHEN waived_on IS NOT NULL THEN 2 ELSE 0 END
                    AS cause,
                CASE WHEN due_on < %(as_of)s AND COALESCE(waived_on > due_on, 1 = 1)
                    THEN 1 ELSE 0 END AS due,
                CASE WHEN sent_on <= due_on AND due_on < %(as_of)s THEN 1 ELSE 0 END AS on_time
            FROM promised
        )
        SELECT held_on, ended_on, cause, due, on_time, COUNT(*)
        FROM told
        GROUP BY 1, 2, 3, 4, 5
        """
    )
    found = []
    for held_on, ended_on, cause, due, on_time, number in rows:
        first, last = as_day(held_on), as_day(ended_on)
        assert first is not None
        assert last is not None
        # A sheet may say that something went out before its session.
        found.append(Sent(first, max(first, last), cause, bool(due), bool(on_time), number))
    return found


def missed(cohort: Cohort) -> dict[str, int]:
    """Return how many of all the team's sessions by the cohort's day have each state.

    Who is booked for that very day is not late yet, and not among the booked.
    """
    until = DiscoverySession.objects.for_team(cohort.team).filter(day__lte=cohort.as_of)
    over = ~Q(state=State.BOOKED) | Q(day__lt=cohort.as_of)
    states = {state.value: Count("pk", filter=over & Q(state=state)) for state in State}
    found: dict[str, int] = until.order_by().aggregate(**states)
    return found


def after_sending(cohort: Cohort) -> list[Followed]:
    """Return what leads did since the first deliverable of their index session went out."""
    to_sending, since = cohort.days("index_day", "sent_on"), cohort.days("sent_on", "ended_on")
    bands = " ".join(f"WHEN {to_sending} <= {most} THEN {n}" for n, most in enumerate(BANDS))
    rows = cohort.ask(
        f"""
        , first_sent AS (
            SELECT session_id, MIN(sent_on) AS sent_on
            FROM {Deliverable._meta.db_table}
            WHERE team_id = %(team)s AND sent_on <= %(as_of)s
            GROUP BY session_id
        )
        SELECT CASE WHEN sent_on IS NULL THEN {NOT_SENT} WHEN sent_on > ended_on THEN {DECIDED}
                {bands} ELSE {len(BANDS)} END,
            CASE WHEN sent_on <= ended_on THEN {since} ELSE 0 END, cause, COUNT(*)
        FROM counted
        LEFT JOIN first_sent ON first_sent.session_id = counted.session_id
        GROUP BY 1, 2, 3
        """
    )
    return [Followed(*row) for row in rows]
