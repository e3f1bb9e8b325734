"""Plans, follow-ups, letters to leads, and the digests that tell of what is due."""

from .consent import Consent, How
from .digest import Digest
from .feed import Feed
from .followup import FollowUp, FollowUpState
from .lead_letter import LeadLetter
from .plan import OF_EXPECTED_MONEY, PlanEdition, PlanStep, Trigger, Unit

__all__ = [
    "OF_EXPECTED_MONEY",
    "Consent",
    "Digest",
    "Feed",
    "FollowUp",
    "FollowUpState",
    "How",
    "LeadLetter",
    "PlanEdition",
    "PlanStep",
    "Trigger",
    "Unit",
]
