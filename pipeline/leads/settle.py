"""What follows from a lead's facts: the one place that brings it up to date.

Every service that writes a fact of a lead ends with ``settle``, in the same transaction. Standing
and follow-ups live on higher floors; they are named, in order, in ``settings.SETTLE_WITH``.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from datetime import datetime
from functools import cache

from django.conf import settings
from django.utils.module_loading import import_string

from pipeline.teams.models import Team

# Keeps the lists in IN (…) within what every database takes.
BATCH = 1000

Step = Callable[[Team, Collection[int], datetime], None]


@cache
def _steps() -> tuple[Step, ...]:
    return tuple(import_string(name) for name in settings.SETTLE_WITH)


def settle(team: Team, lead_ids: Collection[int], *, now: datetime) -> None:
    """Bring all that is computed from the facts of these leads up to date.

    Settling twice changes nothing. Each step takes any number of leads in a fixed number of
    queries a batch; call it inside the transaction that wrote the facts.
    """
    ids = list(lead_ids)
    for start in range(0, len(ids), BATCH):
        for step in _steps():
            step(team, ids[start : start + BATCH], now)
