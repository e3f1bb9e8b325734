"""Celery's app: used where REDIS_URL is set; a static schedule, the work itself lies in rows."""

import os
from typing import Any

from celery import Celery, signals

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "pipeline.settings")

from pipeline.watching.alive import show_life

app = Celery("pipeline")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
app.conf.beat_schedule = {
    "sweep": {"task": "pipeline.followups.tasks.sweep", "schedule": 60.0},
}
show_life()


@signals.setup_logging.connect
def keep_log(**_: Any) -> None:
    """Do nothing: where somebody listens, Celery leaves the log as Django's settings have it."""
