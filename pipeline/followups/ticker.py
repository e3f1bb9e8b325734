"""On one machine: a thread that does due work again and again, beside the pages."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from datetime import datetime

from django.db import connections

from pipeline.claims.waking import bell
from pipeline.clock import moment

from .sweep import sweep

log = logging.getLogger(__name__)


class Ticker:
    """Calls ``work`` at once and then every so many seconds, until it is stopped."""

    def __init__(self, *, seconds: float = 60, work: Callable[[datetime], object] = sweep) -> None:
        self._seconds = seconds
        self._work = work
        self._stopped = threading.Event()
        # Not a daemon: one of those dies with the process in the middle of a letter.
        self._thread = threading.Thread(target=self._run, name="ticker", daemon=False)

    def start(self) -> None:
        """Start ticking."""
        self._thread.start()

    def stop(self) -> None:
        """Let the round that runs end, and return when it has."""
        self._stopped.set()
        bell.set()
        if self._thread.is_alive():
            self._thread.join()

    def _run(self) -> None:
        while not self._stopped.is_set():
            try:
                self._work(moment.shared())
            except Exception:
                log.exception("a round of due work failed; the next one tries again")
            finally:
                connections.close_all()
            # Rung as soon as something is due, and to stop.
            bell.wait(self._seconds)
            bell.clear()
