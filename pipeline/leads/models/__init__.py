"""Leads, their people, and the dated facts about them."""

from .contact import Contact
from .facts import CLOSED_BY, ENDS_WORK, Decision, DecisionKind, Funding, Proposal
from .lead import Lead, LeadQuerySet, Source, Standing
from .log import Channel, LogEntry
from .merge import Merge

__all__ = [
    "CLOSED_BY",
    "ENDS_WORK",
    "Channel",
    "Contact",
    "Decision",
    "DecisionKind",
    "Funding",
    "Lead",
    "LeadQuerySet",
    "LogEntry",
    "Merge",
    "Proposal",
    "Source",
    "Standing",
]
