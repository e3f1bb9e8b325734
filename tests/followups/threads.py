"""Do something in several threads at once."""

from __future__ import annotations

import threading

from django.db import connections


def at_once(*works):
    """Run each of ``works`` in a thread of its own; return what went wrong."""
    ready = threading.Barrier(len(works))
    wrong = []

    def run(work):
        try:
            ready.wait(timeout=10)
            work()
        except Exception as error:
            wrong.append(error)
        finally:
            connections.close_all()

    started = [threading.Thread(target=run, args=[work]) for work in works]
    for thread in started:
        thread.start()
    for thread in started:
        thread.join(timeout=60)
    assert not any(thread.is_alive() for thread in started)
    return wrong
