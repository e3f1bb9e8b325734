"""Gunicorn's settings on a machine of the rig: the program's, a full disk, a quick ticker."""

from __future__ import annotations

from typing import Any

from pipeline.server import *  # noqa: F403
from tests.faults import disk

disk.watch()


def post_worker_init(worker: Any) -> None:
    """Run due work beside the pages, as the program does, with a shorter minute."""
    # Only now are the models there.
    from pipeline.followups.ticker import Ticker

    worker.ticker = Ticker(seconds=0.5)
    worker.ticker.start()
