"""Workers killed by ``kill -9`` at random points of their work, their children too."""

from __future__ import annotations

import os
import signal
import time

from .rig import Outcome, Rig
from .site import Site

NAME = "worker-killed"
# So many seconds at most from one step of a letter to the next, so that a kill finds one at any.
SLOW = 0.2


def run(rig: Rig) -> Outcome:
    """Kill now one worker, now the child that works for it, now all at once."""
    kills, letters = rig.scale(200, 4), rig.scale(5000, 60)
    site = Site(rig, "worker_killed", slow=SLOW)
    site.start()
    struck = 0
    told = 0
    while struck < kills:
        if struck >= told + 20:
            told = struck
            rig.say(f"{struck} kills, {len(site.ledger.arrived)} letters taken")
        ahead = min(struck + len(site.slots), kills)
        site.hand.ask(f"letters {letters * ahead // kills}")
        way = rig.chance.random()
        left = kills - struck
        if left == len(site.slots) or (way < 0.1 and left > 2 * len(site.slots)):
            site.wait_for_work()
            time.sleep(rig.chance.random() * SLOW)
            site.kill_workers(site.slots)
            struck += len(site.slots)
            site.release()
            site.start_workers(site.slots)
            continue
        busy = [slot for slot in site.slots if site.sink.lines(slot)]
        if not busy:
            site.wait_for_work()
            continue
        slot = rig.chance.choice(busy)
        time.sleep(rig.chance.random() * SLOW)
        if way < 0.4:
            _kill_child(site, slot)
        else:
            site.kill_workers([slot])
            site.start_workers([slot])
        struck += 1
    site.settle()
    return Outcome("letters", struck, site.end())


def _kill_child(site: Site, slot: int) -> None:
    for pid in site.workers[slot].children():
        os.kill(pid, signal.SIGKILL)
    site.gone([slot])
