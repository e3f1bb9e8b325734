"""Celery's way to the round of due work."""

from celery import shared_task

from pipeline.clock import moment

from . import sweep as rounds


@shared_task(name="pipeline.followups.tasks.sweep")
def sweep() -> None:
    """Do what is due now."""
    rounds.sweep(moment.now())
