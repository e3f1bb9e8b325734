"""Requests that the served app works on when a test ends: on PostgreSQL each is a transaction.

The tables are emptied next, which waits for it, and it may wait for that: a deadlock.
"""

from __future__ import annotations

import threading

from django.core.signals import request_finished, request_started


class UnderWay:
    """How many requests the served app works on, in its own threads."""

    def __init__(self) -> None:
        self._count = 0
        self._changed = threading.Condition()
        request_started.connect(self._begun, weak=False)
        # After what Django itself does at the end of a request.
        request_finished.connect(self._ended, weak=False)

    def wait(self) -> None:
        """Wait until there is none."""
        with self._changed:
            self._changed.wait_for(lambda: self._count == 0, timeout=20)

    def _begun(self, **_: object) -> None:
        self._add(1)

    def _ended(self, **_: object) -> None:
        self._add(-1)

    def _add(self, number: int) -> None:
        if threading.current_thread() is threading.main_thread():
            return
        with self._changed:
            self._count += number
            self._changed.notify_all()


under_way = UnderWay()
