"""A worker and a beat show that they are at work: each touches a file, for whoever looks at it.

The file holds the process's number. One that has ended, or no longer reaches the broker, does not
touch it again.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from celery import signals
from django.conf import settings


def show_life() -> None:
    """Have this process touch ALIVE_FILE: a worker at each heartbeat, a beat at each call."""
    if settings.ALIVE_FILE:
        signals.heartbeat_sent.connect(_touch)
        signals.beat_init.connect(_follow_beat)


def _follow_beat(**_: Any) -> None:
    # Others call workers, too; only a beat is alive by it.
    signals.after_task_publish.connect(_touch)
    _touch()


def _touch(**_: Any) -> None:
    Path(settings.ALIVE_FILE).write_text(f"{os.getpid()}\n")
