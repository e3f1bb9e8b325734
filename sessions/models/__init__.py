"""Formats, discovery sessions, and what is promised after them."""

from .caught_up import CaughtUp
from .deliverable import Deliverable
from .format import Format, Promise, Step, Way
from .session import CrewPlace, DiscoverySession, Part, State

__all__ = [
    "CaughtUp",
    "CrewPlace",
    "Deliverable",
    "DiscoverySession",
    "Format",
    "Part",
    "Promise",
    "State",
    "Step",
    "Way",
]
