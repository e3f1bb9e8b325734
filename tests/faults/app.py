"""Celery's app on a machine of the rig: ``celery -A tests.faults.app worker`` and ``… beat``.

The program as it is; only the machine's clock may be wrong, and beat's minute is shorter.
"""

import os
import sys
from typing import Any

from celery.signals import before_task_publish, worker_ready

from pipeline.celery import app

from . import skew

skew.set_clock()
_now = app.now
app.now = lambda: _now() + skew.AHEAD
app.conf.beat_schedule["sweep"]["schedule"] = float(os.environ.get("FAULTS_EVERY", "1"))
app.conf.beat_max_loop_interval = 1


SWEEP = "pipeline.followups.tasks.sweep"


@before_task_publish.connect(sender=SWEEP)
def say_that_it_was_sent(**_: Any) -> None:
    """Tell the rig that this beat had what is due looked for."""
    assert sys.__stdout__ is not None
    sys.__stdout__.write("sweep sent\n")
    sys.__stdout__.flush()


@worker_ready.connect
def say_so(**_: Any) -> None:
    """Tell the rig that this worker takes work."""
    # The one that Celery does not put into its log.
    assert sys.__stdout__ is not None
    sys.__stdout__.write("ready\n")
    sys.__stdout__.flush()
