"""Formats, discovery sessions, and what is promised after them."""

from .caught import Note, Statement, Theme
from .caught_up import CaughtUp
from .deliverable import Deliverable
from .format import Catch, Format, Promise, Step, Way
from .run import Desk, Press, RunEvent, StepRun
from .session import CrewPlace, DiscoverySession, Part, State

__all__ = [
    "Catch",
    "CaughtUp",
    "CrewPlace",
    "Deliverable",
    "Desk",
    "DiscoverySession",
    "Format",
    "Note",
    "Part",
    "Press",
    "Promise",
    "RunEvent",
    "State",
    "Statement",
    "Step",
    "StepRun",
    "Theme",
    "Way",
]
