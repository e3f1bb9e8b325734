"""Gunicorn's settings: one process that serves pages and, on one machine, runs due work."""

from __future__ import annotations

import os
import sys
from typing import Any

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "pipeline.settings")

from django.conf import settings

from pipeline import env

wsgi_app = "pipeline.wsgi:application"
bind = env.at_port(settings.HOST, settings.PORT)
worker_class = "gthread"
workers = settings.WEB_WORKERS
threads = 8
timeout = 60
graceful_timeout = 10
loglevel = "warning"
# Its own handler would write in another shape.
logconfig_dict = settings.LOGGING
control_socket_disable = True


def when_ready(server: Any) -> None:
    """Say where the app is, now that it listens there."""
    sys.stdout.write(os.environ.get("WELCOME", f"Open {settings.BASE_URL}/") + "\n")
    sys.stdout.flush()


def post_worker_init(worker: Any) -> None:
    """Run due work beside the pages, where no workers of a broker do it."""
    if settings.REDIS_URL is None:
        # Only now are the models there.
        from pipeline.followups.ticker import Ticker

        worker.ticker = Ticker()
        worker.ticker.start()


def worker_exit(server: Any, worker: Any) -> None:
    """Let a round of due work that runs end before the process does."""
    ticker = getattr(worker, "ticker", None)
    if ticker is not None:
        ticker.stop()
