"""Celery's app: used where REDIS_URL is set; a static schedule, the work itself lies in rows."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "pipeline.settings")

app = Celery("pipeline")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
app.conf.beat_schedule = {
    "sweep": {"task": "pipeline.followups.tasks.sweep", "schedule": 60.0},
}
