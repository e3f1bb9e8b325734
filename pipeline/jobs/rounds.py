"""The rounds of each team's day: fan out jobs, then wait for the next day."""

from __future__ import annotations

import logging
from collections.abc import Callable
from datetime import datetime, timedelta
from functools import cache

from django.conf import settings
from django.db import IntegrityError, transaction
from django.db.models import F
from django.utils.module_loading import import_string

from pipeline.clock.moment import running_from
from pipeline.locks.asking import as_team, as_watcher
from pipeline.teams.models import Team

from .models import Daily, Job, Round, moment_of
from .running import ClaimLost

log = logging.getLogger(__name__)

# How long a job that was done is kept, for whoever wonders.
KEPT = timedelta(days=30)

Handler = Callable[[Round, datetime], None]


@cache
def handlers() -> dict[str, Handler]:
    """Return what begins the rounds of each kind, as ``settings.ROUNDS`` names it."""
    return {kind: import_string(name) for kind, name in settings.ROUNDS.items()}


def plan_rounds(now: datetime) -> int:
    """Give every team its rounds, and move those of a team whose zone or hour was changed.

    Reads the teams and their rounds, no other table. Returns how many rounds were set.
    """
    planned = 0
    for kind in Daily.values:
        current = Round.objects.filter(kind=kind, team_version=F("team__version"))
        with as_watcher():
            without = list(Team.objects.exclude(pk__in=current.values("team")))
        for team in without:
            try:
                planned += _plan(team, kind, now)
            except Exception:
                log.exception("round %s of team %s could not be set", kind, team.pk)
    return planned


def _plan(team: Team, kind: str, now: datetime) -> int:
    """Set a team's round, the first one for today; one that waits for a day goes on doing so."""
    with transaction.atomic(), as_team(team.pk):
        held = Round.objects.select_for_update().filter(team=team, kind=kind).first()
        if held is None:
            held = Round(team=team, kind=kind, day=team.today(now))
        elif held.claim is not None:
            # A worker has it, or it is to be tried again; its next day comes by the new hour.
            return 0
        held.due_at = held.next_attempt_at = moment_of(team, kind, held.day)
        held.team_version = team.version
        try:
            with transaction.atomic():
                held.save()
        except IntegrityError:
            # another worker was quicker
            return 0
    return 1


def run_rounds(now: datetime) -> int:
    """Begin every round that is due; returns how many were begun."""
    clock = running_from(now)
    begun = 0
    while (held := Round.objects.claim_next(now=clock())) is not None:
        begun += _run(held, clock())
    return begun


def _run(held: Round, now: datetime) -> bool:
    try:
        with transaction.atomic(), as_team(held.team_id):
            handlers()[held.kind](held, now)
            _forget(held.team, now)
            if not held.to_next_day(now=now):
                raise ClaimLost(held)
    except ClaimLost:
        log.warning("round %s was taken over by another worker", held.pk)
        return False
    except Exception as error:
        log.exception("round %s of team %s failed", held.kind, held.team_id)
        with as_team(held.team_id):
            held.try_again(now=now, error=f"{type(error).__name__}: {error}")
        return False
    return True


def _forget(team: Team, now: datetime) -> None:
    Job.objects.filter(team=team, done_at__lt=now - KEPT).delete()
