"""Open follow-ups keep to the working days of a team whose zone, week or days off were changed."""

from __future__ import annotations

from datetime import datetime

from pipeline.jobs.models import Job
from pipeline.jobs.planning import plan_job
from pipeline.leads.settle import settle
from pipeline.teams.models import Team

from .models import FollowUp

# So many leads a job: nobody who saves a page waits long for one.
BATCH = 200


def follow(team: Team, now: datetime) -> None:
    """Plan that the team's open follow-ups move to its working days, as they are now stored."""
    _plan(team, version=team.version, after=0, now=now)


def follow_job(job: Job, now: datetime) -> None:
    """Settle some leads with open follow-ups, and have the next ones settled.

    What somebody put off, or added by hand, keeps its day.
    """
    rows = FollowUp.objects.for_team(job.team).open()
    rows = rows.filter(planned_on__isnull=False, lead_id__gt=job.about["after"])
    leads = list(rows.order_by("lead_id").values_list("lead_id", flat=True).distinct()[:BATCH])
    settle(job.team, leads, now=now)
    if len(leads) == BATCH:
        _plan(job.team, version=job.about["version"], after=leads[-1], now=now)


def _plan(team: Team, *, version: int, after: int, now: datetime) -> None:
    plan_job(
        team=team,
        kind="working days",
        key=f"{version}|{after}",
        due_at=now,
        now=now,
        about={"version": version, "after": after},
    )
