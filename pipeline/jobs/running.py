"""Do the jobs that wait: each in one transaction of its own, together with its mark."""

from __future__ import annotations

import logging
from collections.abc import Callable
from datetime import datetime
from functools import cache

from django.conf import settings
from django.db import transaction
from django.utils.module_loading import import_string

from pipeline.clock.moment import running_from
from pipeline.locks.asking import as_team

from .models import Job

log = logging.getLogger(__name__)

# So many jobs a call; the next one takes the rest.
MOST = 1000

Handler = Callable[[Job, datetime], None]


class ClaimLost(Exception):
    """Another worker took the job over; what this one did is taken back."""


@cache
def handlers() -> dict[str, Handler]:
    """Return what does the jobs of each kind, as ``settings.JOBS`` names it."""
    return {kind: import_string(name) for kind, name in settings.JOBS.items()}


def run_jobs(now: datetime) -> int:
    """Do every job that waits; returns how many were done.

    A job that fails is taken back whole and tried again later; it holds up no other.
    """
    clock = running_from(now)
    done = 0
    for _ in range(MOST):
        job = Job.objects.claim_next(now=clock())
        if job is None:
            break
        done += _run(job, clock)
    return done


def _run(job: Job, clock: Callable[[], datetime]) -> bool:
    try:
        with transaction.atomic(), as_team(job.team_id):
            handlers()[job.kind](job, clock())
            if not job.finish(done_at=clock()):
                raise ClaimLost(job)
    except ClaimLost:
        log.warning("job %s was taken over by another worker", job.pk)
        return False
    except Exception as error:
        log.exception("job %s (%s) failed", job.pk, job.kind)
        with as_team(job.team_id):
            job.try_again(now=clock(), error=f"{type(error).__name__}: {error}")
        return False
    return True
