"""Formats, discovery sessions, and what is promised after them."""

from .deliverable import Deliverable
from .format import Format, Promise, Step, Way
from .session import CrewPlace, DiscoverySession, Part, State

__all__ = [
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
