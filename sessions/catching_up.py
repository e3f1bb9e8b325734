"""Facts whose own day lay ahead when they were entered: settle their leads when it comes."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from django.db import transaction

from pipeline.jobs.models import Job, Round
from pipeline.jobs.planning import plan_job
from pipeline.leads.models import Decision, Funding, Proposal
from pipeline.leads.settle import settle
from pipeline.teams.models import Team

from .models import CaughtUp, Deliverable, DiscoverySession

# Each fact of a lead with the column that holds its own day.
OWN_DAYS = (
    (Decision, "day"),
    (Proposal, "sent_on"),
    (Funding, "arrived_on"),
    (DiscoverySession, "day"),
    (Deliverable, "sent_on"),
    (Deliverable, "waived_on"),
)


def begin_day(held: Round, now: datetime) -> None:
    """Have the team's leads caught up with, and what is over forgotten: a new day's round."""
    day = held.team.today(now).isoformat()
    for kind in ("catch up", "forget"):
        plan_job(team=held.team, kind=kind, key=day, due_at=now, now=now)


def catch_up_job(job: Job, now: datetime) -> None:
    """Catch up with the leads of the job's team."""
    catch_up(job.team, now)


def catch_up(team: Team, now: datetime) -> int:
    """Settle the leads that have a fact of a day that came since the last call.

    Cheap to call often: one query on all but the first call of a team's day. Returns how many
    leads were settled. However long nobody called, no day is left out.
    """
    today = team.today(now)
    known = CaughtUp.objects.for_team(team)
    if known.filter(day__gte=today).exists():
        return 0
    with transaction.atomic():
        CaughtUp.objects.get_or_create(team=team)
        mark = known.select_for_update().get()
        if mark.day is not None and mark.day >= today:
            return 0
        leads = _with_facts_between(team, mark.day, today)
        settle(team, leads, now=now)
        mark.day = today
        mark.save(update_fields=["day"])
    return len(leads)


def _with_facts_between(team: Team, after: date | None, until: date) -> list[int]:
    """Return the leads with a fact on a day after ``after`` (``None``: ever), up to ``until``."""
    found: set[int] = set()
    for table, column in OWN_DAYS:
        days: dict[str, Any] = {f"{column}__lte": until}
        if after is not None:
            days[f"{column}__gt"] = after
        objects: Any = table.objects
        rows = objects.for_team(team).filter(**days)
        found.update(rows.values_list("lead", flat=True))
    return sorted(found)
