"""What the database is asked: one row a lead, in one query whatever the number of leads."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from typing import Any

from django.db.models import F, OuterRef, QuerySet, Subquery

from pipeline.leads.models import CLOSED_BY, Decision, DecisionKind, Lead
from pipeline.results.outcomes import Facts
from pipeline.teams.models import Team
from sessions.models import DiscoverySession

COLUMNS = (
    "first_held_on",
    "format_name",
    "source_name",
    "engaged_on",
    "closed_on",
    "no_budget_on",
    "followed_since",
)


def leads_with_session(team: Team, as_of: date) -> QuerySet[Lead, Any]:
    """Return the team's leads that had a held session by `as_of`, with the days that decide.

    Only facts whose own day is `as_of` or before count, so the stored index day, which is that
    of now, serves nothing here. Of two sessions held on the first day the one entered first
    counts. A lead that was merged into another is told by that one.
    """
    held = (
        DiscoverySession.objects.for_team(team)
        .held()
        .filter(lead=OuterRef("pk"), day__lte=as_of)
        .order_by("day", "pk")
    )

    def first(kinds: Collection[str], **since: Any) -> Subquery:
        decided = Decision.objects.for_team(team).filter(
            lead=OuterRef("pk"), kind__in=sorted(kinds), day__lte=as_of, **since
        )
        return Subquery(decided.order_by("day").values("day")[:1])

    found: QuerySet[Lead, Any] = (
        Lead.objects.for_team(team)
        .present()
        .annotate(
            first_held_on=Subquery(held.values("day")[:1]),
            format_name=Subquery(held.values("format__name")[:1]),
            source_name=F("source__name"),
            engaged_on=first({DecisionKind.ENGAGED}),
            closed_on=first(CLOSED_BY),
            no_budget_on=first({DecisionKind.NO_BUDGET}, day__gte=OuterRef("first_held_on")),
        )
        .exclude(first_held_on=None)
    )
    return found


def facts_as_of(team: Team, as_of: date) -> list[Facts]:
    """Return the facts of every lead that had a held session by `as_of`."""
    return [Facts(*row) for row in leads_with_session(team, as_of).values_list(*COLUMNS)]
