"""The morning of a team's day: what its members are told, each by a job of its own."""

from __future__ import annotations

from datetime import date, datetime

from pipeline.clock.workdays import ONE_DAY
from pipeline.jobs.models import Round
from pipeline.jobs.planning import job_of, plan_jobs
from pipeline.teams.models import Member, Team


def begin(held: Round, now: datetime) -> None:
    """Plan the digests of today, where a working day has come since the last round.

    However many mornings nothing ran, today's digest tells of all that is due.
    """
    today = held.team.today(now)
    if not _worked(held.team, held.day, today):
        return
    members = Member.objects.for_team(held.team).who_write()
    jobs = [
        job_of(
            team=held.team,
            kind="digest",
            key=f"{today.isoformat()}|{member.pk}",
            due_at=now,
            about={"member": member.pk, "day": today.isoformat()},
        )
        for member in members.filter(wants_digest=True, user__is_active=True)
    ]
    plan_jobs(jobs, now=now)


def _worked(team: Team, first: date, last: date) -> bool:
    """Tell whether the team works on a day from ``first`` to ``last``; a week is looked at."""
    calendar = team.calendar()
    days = min((last - first).days, 31)
    return any(calendar.is_working(last - n * ONE_DAY) for n in range(days + 1))
