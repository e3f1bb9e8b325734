"""PostgreSQL stopped hard while letters are written and sent, and started again."""

from __future__ import annotations

import time

from .rig import Outcome, Rig
from .site import Site

NAME = "database-restarted"
SLOW = 0.05


def run(rig: Rig) -> Outcome:
    """Stop the server at random points, and keep it away for a moment."""
    stops, letters = rig.scale(20, 2), rig.scale(1000, 60)
    site = Site(rig, "database_restarted", slow=SLOW)
    site.start()
    for struck in range(1, stops + 1):
        site.hand.ask(f"letters {letters * struck // stops}")
        site.wait_for_letters(5)
        time.sleep(rig.chance.random())
        site.cluster.stop_hard()
        time.sleep(rig.chance.random())
        # For the rig alone at first: so no mark is set while those that are there are read.
        site.cluster.start(closed=True)
        site.strike(site.slots)
        site.cluster.open()
        rig.say(f"{struck} restarts, {len(site.ledger.arrived)} letters taken")
    site.settle()
    return Outcome("letters", stops, site.end())
