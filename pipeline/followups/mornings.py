"""The morning of a team's day: what its members are told, each by a job of its own."""

from __future__ import annotations

from datetime import date, datetime

from pipeline.clock.workdays import ONE_DAY
from pipeline.jobs.models import Job, Round
from pipeline.jobs.planning import job_of, plan_jobs
from pipeline.teams.models import Absence, Member, Team


def begin(held: Round, now: datetime) -> None:
    """Plan today's digests and this week's reviews, where a working day came since the last round.

    However many mornings nothing ran, today's digest tells of all that is due. A week's review is
    planned on its first such morning; on the others only for whoever was away until then.
    """
    today = held.team.today(now)
    if not _worked(held.team, held.day, today):
        return
    year, week, _ = today.isocalendar()
    away = Absence.objects.away(held.team, today)

    def jobs(letter: str, kind: str, once: str) -> list[Job]:
        members = Member.objects.for_team(held.team).who_get(letter).exclude(pk__in=list(away))
        return [
            job_of(
                team=held.team,
                kind=kind,
                key=f"{once}|{member.pk}",
                due_at=now,
                about={"member": member.pk, "day": today.isoformat()},
            )
            for member in members
        ]

    digests = jobs("digest", "digest", today.isoformat())
    reviews = jobs("review", "weekly review", f"{year}-W{week:02}")
    plan_jobs(digests + reviews, now=now)


def member_of(job: Job, letter: str) -> Member | None:
    """Return the member for whom a job was planned; none who has left or wants none by now."""
    members = Member.objects.for_team(job.team).who_get(letter).with_user()
    member: Member | None = members.filter(pk=job.about["member"]).first()
    if member is not None:
        member.team = job.team
    return member


def _worked(team: Team, first: date, last: date) -> bool:
    """Tell whether the team works on a day from ``first`` to ``last``; a month is looked at."""
    calendar = team.calendar()
    days = min((last - first).days, 31)
    return any(calendar.is_working(last - n * ONE_DAY) for n in range(days + 1))
