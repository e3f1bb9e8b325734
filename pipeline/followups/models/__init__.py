"""Plans, follow-ups, and the digests that tell of them."""

from .digest import Digest
from .feed import Feed
from .followup import FollowUp, FollowUpState
from .plan import PlanEdition, PlanStep, Trigger, Unit

__all__ = [
    "Digest",
    "Feed",
    "FollowUp",
    "FollowUpState",
    "PlanEdition",
    "PlanStep",
    "Trigger",
    "Unit",
]
