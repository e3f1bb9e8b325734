"""One round of due work: whatever time has brought, found in the database."""

from __future__ import annotations

import logging
from dataclasses import dataclass
from datetime import datetime

from pipeline.mail.delivery import deliver
from pipeline.teams.models import Team
from sessions.catching_up import catch_up
from sessions.takeaways.batches import set_waiting

from .digests import write_digests

log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Swept:
    """What a round did."""

    leads: int
    digests: int
    letters: int
    takeaways: int


def sweep(now: datetime) -> Swept:
    """Do what is due at ``now``; any number of rounds may run at once.

    First what the new day changes, then the digests that tell of it, then their letters; last the
    takeaways that were asked for together.
    """
    leads = 0
    for team in Team.objects.order_by("pk"):
        try:
            leads += catch_up(team, now)
        except Exception:
            log.exception("team %s was not brought up to date", team.pk)
    return Swept(leads, write_digests(now), deliver(now), set_waiting(now))
