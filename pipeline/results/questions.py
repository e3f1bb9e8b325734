"""What the database is asked: one row a lead, in one query whatever the number of leads."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from typing import Any

from django.db.models import OuterRef, Subquery, Window
from django.db.models.functions import RowNumber

from pipeline.leads.models import CLOSED_BY, Decision, DecisionKind
from pipeline.results.outcomes import Facts
from pipeline.teams.models import Team
from sessions.models import DiscoverySession
from sessions.models.session import SessionQuerySet

COLUMNS = (
    "day",
    "format__name",
    "lead__source__name",
    "engaged_on",
    "closed_on",
    "no_budget_on",
    "lead__followed_since",
)


def index_sessions(team: Team, as_of: date) -> SessionQuerySet:
    """Return the first held session of each of the team's leads, with the days that decide.

    Only facts whose own day is `as_of` or before count, so the stored index day, which is that
    of now, serves nothing here. Of two sessions held on the first day the one entered first
    counts. A lead that was merged into another is told by that one.

    The sessions are numbered in one pass. Looking them up lead by lead took the square of their
    number on SQLite, which prefers the index by state for that.
    """

    def first(kinds: Collection[str], **since: Any) -> Subquery:
        decided = Decision.objects.for_team(team).filter(
            lead=OuterRef("lead"), kind__in=sorted(kinds), day__lte=as_of, **since
        )
        return Subquery(decided.order_by("day").values("day")[:1])

    held = DiscoverySession.objects.for_team(team).held()
    found: SessionQuerySet = (
        held.filter(day__lte=as_of, lead__merged_into=None)
        .annotate(
            number=Window(RowNumber(), partition_by="lead", order_by=["day", "pk"]),
            engaged_on=first({DecisionKind.ENGAGED}),
            closed_on=first(CLOSED_BY),
            no_budget_on=first({DecisionKind.NO_BUDGET}, day__gte=OuterRef("day")),
        )
        .filter(number=1)
        .order_by()
    )
    return found


def facts_as_of(team: Team, as_of: date) -> list[Facts]:
    """Return the facts of every lead that had a held session by `as_of`."""
    return [Facts(*row) for row in index_sessions(team, as_of).values_list(*COLUMNS)]
