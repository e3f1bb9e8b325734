"""One round of due work: whatever time has brought, found in the database."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from pipeline.claims.waking import ring
from pipeline.clock.moment import running_from
from pipeline.jobs.rounds import plan_rounds, run_rounds
from pipeline.jobs.running import run_jobs
from pipeline.locks.asking import as_watcher, locked
from pipeline.mail.delivery import deliver
from pipeline.mail.models import Letter

# So many letters are worth a worker of their own, up to so many workers.
LETTERS_A_WORKER = 50
WORKERS = 8


@dataclass(frozen=True)
class Swept:
    """What a round did."""

    rounds: int
    jobs: int
    letters: int


def sweep(now: datetime) -> Swept:
    """Do what is due at ``now``; any number of calls may run at once.

    First the rounds of the teams' days, then the jobs that they and others have planned, then the
    letters that these have written.
    """
    clock = running_from(now)
    with locked():
        plan_rounds(now)
        rounds = run_rounds(now)
        return Swept(rounds, *drain(clock()))


def drain(now: datetime) -> tuple[int, int]:
    """Do the jobs and send the letters that wait; returns how many of each."""
    clock = running_from(now)
    with locked():
        jobs = run_jobs(now)
        # Those that the jobs have just written are due by now.
        return jobs, deliver(clock())


def share_out(now: datetime) -> None:
    """Wake more workers where one would be at it for long; they share what waits by claims."""
    most = LETTERS_A_WORKER * WORKERS
    with locked(), as_watcher():
        waiting = Letter.objects.waiting(now).values("pk")[:most].count()
    if waiting > LETTERS_A_WORKER:
        ring(waiting // LETTERS_A_WORKER)
