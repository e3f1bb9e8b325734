"""Plan a job: a row, in the transaction of what causes it; it is done later."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from pipeline.claims.waking import wake
from pipeline.teams.models import Team

from .models import Job


def plan_job(
    *,
    team: Team,
    kind: str,
    key: str,
    due_at: datetime,
    now: datetime,
    about: dict[str, Any] | None = None,
) -> None:
    """Plan one job of ``kind`` for ``due_at``; of one cause (``key``) there is only ever one."""
    plan_jobs([job_of(team=team, kind=kind, key=key, due_at=due_at, about=about)], now=now)


def job_of(
    *, team: Team, kind: str, key: str, due_at: datetime, about: dict[str, Any] | None = None
) -> Job:
    """Return a job that is not stored yet."""
    return Job(
        team=team,
        kind=kind,
        key=f"{kind}|{key}",
        due_at=due_at,
        next_attempt_at=due_at,
        about=about or {},
    )


def plan_jobs(jobs: list[Job], *, now: datetime) -> None:
    """Store jobs in one statement; those whose cause has one already are left as they are."""
    Job.objects.bulk_create(jobs, ignore_conflicts=True, batch_size=500)
    if any(job.due_at <= now for job in jobs):
        wake()
