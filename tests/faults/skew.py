"""A machine whose own clock is wrong, by the seconds that ``FAULTS_AHEAD`` names."""

from __future__ import annotations

import os
import time
from datetime import datetime, timedelta

from pipeline.clock import moment

AHEAD = timedelta(seconds=float(os.environ.get("FAULTS_AHEAD", "0")))

_now, _time = moment.now, time.time


def now() -> datetime:
    """Return the present moment by this machine's clock."""
    return _now() + AHEAD


def set_clock() -> None:
    """Have everybody in this process read the wrong clock."""
    moment.now = now
    time.time = lambda: _time() + AHEAD.total_seconds()
