"""Two beats whose clocks are wrong by an hour, running all the time, and one that was down."""

from __future__ import annotations

import time

from .processes import Broken
from .rig import Outcome, Rig
from .site import Site

NAME = "two-beats"
# Seconds within which the beats have done their part on the slowest of machines.
LONGEST = 600


def run(rig: Rig) -> Outcome:
    """Have digests fall due under two beats, half of them after three days without any.

    Every member is to get one digest, and nothing goes out before it is due.
    """
    site = Site(rig, "two_beats", every=0.3)
    site.hand.ask(f"early {rig.scale(100, 20)}")
    site.hand.ask(f"digests {rig.scale(20, 4)} 3")
    site.hand.finish()
    site.start()
    sweeps = rig.scale(300, 20)
    until = time.monotonic() + LONGEST
    while (struck := site.sweeps()) < sweeps:
        if time.monotonic() > until:
            raise Broken(f"the beats had what is due looked for {struck} times only")
        site.hand.ask(f"letters {struck}")
        time.sleep(0.5)
    site.settle()
    return Outcome("letters", site.sweeps(), site.end())
