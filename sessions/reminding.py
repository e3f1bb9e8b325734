"""Reminders of a session to its crew, a day before it starts."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from pipeline.jobs.models import Job
from pipeline.jobs.planning import plan_job
from pipeline.mail.models import Stops
from pipeline.mail.to_member import write_to_member
from pipeline.teams.cover import cover_on
from pipeline.teams.models import Member
from pipeline.teams.templatetags.show import moment

from .models import DiscoverySession, State

BEFORE = timedelta(hours=24)
# Whoever books a session this shortly before it needs no reminder of it.
TOO_SHORT = timedelta(hours=1)


def remind(session: DiscoverySession, *, now: datetime) -> None:
    """Plan the reminder of a booked session, for the hour and the crew that it has now.

    Call it in the transaction that sets these. What was planned for another hour does nothing
    when its time comes, and nobody is reminded of one hour twice.
    """
    starts_at = session.starts_at
    if session.state != State.BOOKED or starts_at is None or starts_at - now <= TOO_SHORT:
        return
    plan_job(
        team=session.team,
        kind="session reminder",
        key=f"{session.pk}|{session.version}",
        due_at=max(starts_at - BEFORE, now),
        now=now,
        about={"session": session.pk, "starts_at": starts_at.astimezone(UTC).isoformat()},
    )


def reminder_job(job: Job, now: datetime) -> None:
    """Remind the crew, if the session is still to start at the hour of which the job knows."""
    starts_at = datetime.fromisoformat(job.about["starts_at"])
    booked = DiscoverySession.objects.for_team(job.team).booked().with_names()
    rows = booked.filter(lead__merged_into=None, pk=job.about["session"], starts_at=starts_at)
    session = rows.first()
    if session is None or starts_at <= now:
        return
    session.team = job.team
    hour = moment(starts_at, job.team.timezone)
    for member in reminded(session, now):
        member.team = job.team
        write_to_member(
            member,
            stops=Stops.REMINDERS,
            key=f"{session.pk}|{starts_at.isoformat()}",
            subject=f"{job.team}: session with {session.lead}, {hour}",
            template="reminder",
            context={"session": session, "crew": _crew(session)},
            due_at=now,
        )


def reminded(session: DiscoverySession, now: datetime) -> list[Member]:
    """Return who is to be reminded: the crew, and who stands in for one of it on the day.

    Whoever is away both now and on the day is left alone.
    """
    on_day, today = cover_on(session.team, session.day), session.team.today(now)
    away_now = cover_on(session.team, today).absences
    found: dict[int, Member] = {}
    for place in session.crew.all():
        member = place.member
        if member.pk in on_day.absences:
            if by := on_day.stand_in(member.pk):
                found[by.pk] = by
            if member.pk in away_now:
                continue
        found[member.pk] = member
    return [
        member
        for member in found.values()
        if member.left_on is None and member.user.is_active and "reminders" in member.gets
    ]


def _crew(session: DiscoverySession) -> list[str]:
    """Return who does what on the day, in words."""
    cover = cover_on(session.team, session.day)
    return [f"{cover.whose(place.member)}, {place.part}" for place in session.crew.all()]
