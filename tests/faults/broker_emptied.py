"""A Redis that forgets everything, or is killed, while letters and digests are on their way."""

from __future__ import annotations

import time

from .rig import Outcome, Rig
from .site import Site

NAME = "broker-emptied"
SLOW = 0.05


def run(rig: Rig) -> Outcome:
    """Empty it and kill it in turn; the digests of a day fall due in the middle of that."""
    strikes, letters = rig.scale(20, 2), rig.scale(1000, 60)
    site = Site(rig, "broker_emptied", slow=SLOW)
    site.start()
    for struck in range(1, strikes + 1):
        site.hand.ask(f"letters {letters * struck // strikes}")
        if struck == strikes // 2:
            site.hand.ask(f"digests {rig.scale(20, 4)} 3")
        site.wait_for_letters(5)
        time.sleep(rig.chance.random())
        if struck % 2:
            site.broker.flush()
        else:
            site.broker.kill()
            time.sleep(rig.chance.random() * 2)
            site.broker.start()
        rig.say(f"{struck} times, {len(site.ledger.arrived)} letters taken")
    site.settle()
    return Outcome("letters", strikes, site.end())
