"""The people at a lead: add, correct, remove."""

from __future__ import annotations

from django.db import transaction

from pipeline.teams.refused import Refused

from .models import Contact, Lead
from .rules import hold


@transaction.atomic
def add_contact(
    *, lead: Lead, name: str = "", email: str = "", role: str = "", timezone: str = ""
) -> Contact:
    """Store a person at the lead."""
    contact = Contact(
        team_id=lead.team_id, lead=lead, name=name, email=email, role=role, timezone=timezone
    )
    _check(contact)
    contact.save(force_insert=True)
    return contact


@transaction.atomic
def amend_contact(*, contact: Contact, expected_version: int) -> Contact:
    """Store a person who was corrected; ``Stale`` if somebody else did so meanwhile."""
    _check(contact)
    contact.save_version(expected_version)
    return contact


@transaction.atomic
def remove_contact(*, contact: Contact) -> None:
    """Remove a person, also from the sessions in which they took part."""
    hold(contact.lead_id)
    contact.delete()


def _check(contact: Contact) -> None:
    hold(contact.lead_id)
    if contact.erased_at is not None:
        raise Refused("This person was erased for good. Add a new contact for whoever it is now.")
    if not (contact.name or contact.email):
        raise Refused("Give a name or an e-mail address.", "name")
