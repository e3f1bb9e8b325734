"""Due work as rows: a job is done once, a round comes again every local day."""

from __future__ import annotations

from datetime import date, datetime, time
from typing import Any

from django.db import models
from django.db.models import Q

from pipeline.claims.due import STUCK, Due, DueRows
from pipeline.clock.workdays import ONE_DAY
from pipeline.clock.zones import at_local
from pipeline.teams.models import Team, TeamOwned, TeamQuerySet

WAITS = Q(next_attempt_at__isnull=False)


class JobQuerySet(DueRows, TeamQuerySet["Job"]):
    """Jobs by what they are looked up for."""


class Job(TeamOwned, Due):
    """One piece of work, done once in one transaction."""

    # Which work: names its handler in ``settings.JOBS``.
    kind = models.CharField(max_length=30)
    # Says what it is about; the same cause never makes a second job.
    key = models.CharField(max_length=200)
    # What the handler needs to know: keys of rows, days.
    about = models.JSONField(default=dict)
    # NULL: not done.
    done_at = models.DateTimeField(null=True)

    objects: Any = JobQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["team", "key"], name="job_unique")]
        indexes = [
            models.Index(fields=["next_attempt_at"], condition=WAITS, name="job_waiting"),
            models.Index(fields=["team", "done_at"], name="job_done"),
            models.Index(fields=["team"], condition=STUCK, name="job_stuck"),
            models.Index(fields=["claimed_at"], name="job_claimed"),
        ]

    def __str__(self) -> str:
        return self.key


class Daily(models.TextChoices):
    """The rounds of a team's day."""

    NEW_DAY = "new day", "new day"
    MORNING = "morning", "morning"


class RoundQuerySet(DueRows, TeamQuerySet["Round"]):
    """Rounds by what they are looked up for."""


class Round(TeamOwned, Due):
    """What comes again on every local day of a team: at midnight, or at the digest's hour."""

    kind = models.CharField(max_length=10, choices=Daily)
    # The local day for which it is due; days on which nothing ran are made up for by one round.
    day = models.DateField()
    # Of the team, when the moment was computed: another zone or hour moves it.
    team_version = models.PositiveIntegerField()

    objects: Any = RoundQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["team", "kind"], name="round_unique")]
        indexes = [models.Index(fields=["next_attempt_at"], condition=WAITS, name="round_waiting")]

    def __str__(self) -> str:
        return f"{self.kind} of {self.day}"

    def to_next_day(self, *, now: datetime, error: str = "") -> bool:
        """Wait for the next local day whose moment lies ahead; False where the claim was lost."""
        day = next_day(self.team, self.kind, now, after=self.day)
        due_at = moment_of(self.team, self.kind, day)
        return self._store(
            day=day,
            due_at=due_at,
            next_attempt_at=due_at,
            team_version=self.team.version,
            attempts=0,
            claim=None,
            last_error=error[:300],
        )

    def give_up(self, *, now: datetime, error: str) -> bool:
        """Give up this day's round alone: what goes wrong today may go right tomorrow."""
        return self.to_next_day(now=now, error=error)


def moment_of(team: Team, kind: str, day: date) -> datetime:
    """Return when the round of ``kind`` is due for the team's local ``day``."""
    hour = team.digest_time() if kind == Daily.MORNING else time(0)
    return at_local(day, hour, team.timezone)


def next_day(team: Team, kind: str, now: datetime, *, after: date) -> date:
    """Return the first local day, later than ``after``, whose round is due after ``now``."""
    day = max(team.today(now), after + ONE_DAY)
    return day if moment_of(team, kind, day) > now else day + ONE_DAY
