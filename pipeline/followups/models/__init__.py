"""Plans, follow-ups, and the digests that tell of them."""

from .digest import Digest
from .followup import FollowUp, FollowUpState
from .plan import PlanStep, Trigger, Unit

__all__ = ["Digest", "FollowUp", "FollowUpState", "PlanStep", "Trigger", "Unit"]
