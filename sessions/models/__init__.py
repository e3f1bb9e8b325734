"""Formats, discovery sessions, and what is promised after them."""

from .batch import Batch, BatchItem
from .calendar_entry import CalendarEntry
from .caught import Note, Statement, Theme
from .caught_up import CaughtUp
from .deliverable import Deliverable
from .format import Catch, Format, Promise, Step, Way
from .lanes import LaneChart, LaneStep
from .offer import Offer, OfferedTime, OfferPlace
from .run import Desk, Press, RunEvent, StepRun
from .session import CrewPlace, DiscoverySession, Part, State
from .shared import Opening, SharedTakeaway
from .write_up import AfterHour, Budget, WriteUp

__all__ = [
    "AfterHour",
    "Batch",
    "BatchItem",
    "Budget",
    "CalendarEntry",
    "Catch",
    "CaughtUp",
    "CrewPlace",
    "Deliverable",
    "Desk",
    "DiscoverySession",
    "Format",
    "LaneChart",
    "LaneStep",
    "Note",
    "Offer",
    "OfferPlace",
    "OfferedTime",
    "Opening",
    "Part",
    "Press",
    "Promise",
    "RunEvent",
    "SharedTakeaway",
    "State",
    "Statement",
    "Step",
    "StepRun",
    "Theme",
    "Way",
    "WriteUp",
]
