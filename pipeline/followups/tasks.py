"""Celery's way to due work. A message only wakes a worker: what is due is found in rows."""

from celery import shared_task

from pipeline.clock import moment
from pipeline.watching.telling import told

from . import sweep as rounds


@shared_task(name="pipeline.followups.tasks.sweep")
@told("sweep")
def sweep() -> None:
    """Do what is due now, and share out what is much."""
    now = moment.shared()
    rounds.share_out(now)
    rounds.sweep(now)


@shared_task(name="pipeline.followups.tasks.drain")
@told("drain")
def drain() -> None:
    """Do the jobs and send the letters that wait now."""
    rounds.drain(moment.shared())
