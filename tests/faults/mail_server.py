"""A mail server that refuses, delays, drops mid-way, or takes and drops one letter in five."""

from __future__ import annotations

from .rig import Outcome, Rig
from .site import Site
from .troubles import trouble

NAME = "mail-server"


def run(rig: Rig) -> Outcome:
    """Write letters, and let come again what was put off until the server has taken all."""
    letters = rig.scale(1000, 60)
    site = Site(rig, "mail_server", troubled=True)
    site.start()
    site.hand.ask(f"letters {letters}")
    site.settle()
    struck = sum(
        trouble(f"letter-{number}@", tried, rig.seed) is not None
        for number in range(1, letters + 1)
        for tried in range(3)
    )
    return Outcome("letters", struck, site.end())
