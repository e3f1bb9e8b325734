"""Notes: as soon as a member records that money arrived, or that a lead came back, others hear."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from typing import Any

from pipeline.jobs.models import Job
from pipeline.jobs.planning import job_of, plan_jobs
from pipeline.leads.models import Decision, DecisionKind, Funding
from pipeline.mail.models import Stops
from pipeline.mail.to_member import write_to_member
from pipeline.teams.models import Absence, Member, Team

from .weekly import returns_of, told_of


def settle(team: Team, lead_ids: Collection[int], now: datetime) -> None:
    """Plan a note of each funding and engagement that a member recorded just now.

    What an import brought nobody recorded. Two queries; settling twice plans nothing twice.
    """
    new = {"lead__in": lead_ids, "recorded_at": now, "recorded_by__isnull": False}
    found: list[Any] = [
        *Funding.objects.for_team(team).filter(**new),
        *Decision.objects.for_team(team).filter(kind=DecisionKind.ENGAGED, **new),
    ]
    jobs = [
        job_of(
            team=team,
            kind="note",
            key=f"{type(row).__name__.lower()}|{row.pk}",
            due_at=now,
            about={type(row).__name__.lower(): row.pk},
        )
        for row in found
    ]
    if jobs:
        plan_jobs(jobs, now=now)


def note_job(job: Job, now: datetime) -> None:
    """Tell of a fact whoever wants notes and did not record it; of one removed since nobody."""
    table: Any = Funding if "funding" in job.about else Decision
    (pk,) = job.about.values()
    rows = table.objects.for_team(job.team).filter(lead__merged_into=None)
    row = rows.select_related("lead", "recorded_by__user").filter(pk=pk).first()
    context = _told(job.team, row) if row is not None else None
    if context is None:
        return
    away = Absence.objects.away(job.team, job.team.today(now))
    members = Member.objects.for_team(job.team).who_get("notes").with_user()
    for member in members.exclude(pk=row.recorded_by_id).exclude(pk__in=list(away)):
        member.team = job.team
        write_to_member(
            member,
            stops=Stops.NOTES,
            key=f"{table.__name__.lower()}|{pk}",
            subject=f"{job.team}: {context['what']}",
            template="note",
            context=context,
            due_at=now,
        )


def _told(team: Team, row: Decision | Funding) -> dict[str, Any] | None:
    """Return what the letter says of a fact; ``None`` for an engagement that is no return."""
    context: dict[str, Any] = {"row": row, "lead": row.lead}
    if isinstance(row, Funding):
        return context | {"what": f"money arrived at {row.lead}", "day": row.arrived_on}
    engagement, session = returns_of(team, [row.lead_id]).get(row.lead_id, (None, None))
    if row != engagement:
        return None
    return context | {
        "what": f"{row.lead} came back and engaged",
        "day": row.day,
        "session": session,
        "earned_by": told_of(session) if session else "",
        "is_return": True,
    }
