"""Take a row for writing: fresh, locked behind its lead, at the version that was seen."""

from __future__ import annotations

from pipeline.leads.models import Lead
from pipeline.teams.models import Stale

from .models import Deliverable, DiscoverySession


def lock_lead(pk: int) -> Lead:
    """Lock a lead until the transaction ends; all writers of its facts queue here.

    ``no_key``: rows that refer to the lead may still be added meanwhile, so that a writer who
    adds a fact first and locks afterwards can't block one who does it the other way round.
    """
    lead: Lead = Lead.objects.select_for_update(no_key=True).get(pk=pk)
    return lead


def take_session(session: DiscoverySession, expected: int | None) -> DiscoverySession:
    """Return ``session`` as stored now, locked; ``Stale`` if its version is not ``expected``."""
    lock_lead(session.lead_id)
    found: DiscoverySession = DiscoverySession.objects.select_related(
        "team", "lead", "format", "marked_by__user"
    ).get(pk=session.pk)
    if expected is not None and found.version != expected:
        raise Stale(found)
    return found


def take_deliverable(deliverable: Deliverable, expected: int | None) -> Deliverable:
    """Return ``deliverable`` as stored now, locked; ``Stale`` as for a session."""
    lock_lead(deliverable.lead_id)
    found: Deliverable = Deliverable.objects.select_related(
        "team", "lead", "session", "marked_by__user"
    ).get(pk=deliverable.pk)
    if expected is not None and found.version != expected:
        raise Stale(found)
    return found
