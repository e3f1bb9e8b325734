"""What could not be sent or done, of one team; its owner may have it tried again."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import transaction

from pipeline.claims.waking import wake
from pipeline.jobs.models import Job, Round
from pipeline.mail.models import Letter
from pipeline.teams.models import Team

# So many of a kind are listed; the rest is counted.
LISTED = 100


@dataclass(frozen=True)
class Listed:
    """Rows of a kind: the first ones, and how many more there are."""

    rows: list[Any]
    more: int


@dataclass(frozen=True)
class Failures:
    """All that failed: in vain, or to be tried again by itself."""

    letters_given_up: Listed
    letters_trying: Listed
    jobs_given_up: Listed
    jobs_trying: Listed
    # A round that is given up goes on on the next day.
    rounds: Listed

    def __bool__(self) -> bool:
        return any(listed.rows for listed in vars(self).values())

    @property
    def given_up(self) -> bool:
        """Tell whether something waits for an owner."""
        return bool(self.letters_given_up.rows or self.jobs_given_up.rows)


def failures(team: Team) -> Failures:
    """Return what failed, what was to be done first before the rest."""
    letters = Letter.objects.for_team(team).not_private().stuck().order_by("due_at", "pk")
    jobs = Job.objects.for_team(team).stuck().order_by("due_at", "pk")
    return Failures(
        letters_given_up=_listed(letters.filter(gave_up_at__isnull=False)),
        letters_trying=_listed(letters.filter(gave_up_at=None)),
        jobs_given_up=_listed(jobs.filter(gave_up_at__isnull=False)),
        jobs_trying=_listed(jobs.filter(gave_up_at=None)),
        rounds=_listed(Round.objects.for_team(team).stuck().order_by("due_at", "pk")),
    )


def count_given_up(team: Team) -> tuple[int, int]:
    """Return how many letters and how many jobs wait for an owner."""
    letters = Letter.objects.for_team(team).not_private().given_up().count()
    jobs = Job.objects.for_team(team).given_up().count()
    return letters, jobs


@transaction.atomic
def try_all_again(*, team: Team, now: datetime) -> tuple[int, int]:
    """Let all that was given up be tried anew; returns how many letters and jobs that was."""
    letters = Letter.objects.for_team(team).not_private().revive(now=now)
    jobs = Job.objects.for_team(team).revive(now=now)
    wake()
    return letters, jobs


def in_words(letters: int, jobs: int) -> str:
    """Return counts as ``2 letters and 1 piece of work``; what is none goes unsaid."""
    said = [
        f"{letters} letter{'' if letters == 1 else 's'}" if letters else "",
        f"{jobs} piece{'' if jobs == 1 else 's'} of work" if jobs else "",
    ]
    return " and ".join(filter(None, said))


def _listed(rows: Any) -> Listed:
    first = list(rows[:LISTED])
    return Listed(first, rows.count() - LISTED if len(first) == LISTED else 0)
