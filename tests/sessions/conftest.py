"""What most tests of sessions start from: a lead, a shipped format, a crew, a booked session."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from pipeline.leads.models import Lead
from sessions.booking import book
from sessions.formats import ensure_formats
from sessions.holding import hold
from sessions.models import Deliverable, DiscoverySession, Format, Part
from tests.conftest import NOW, Cast
from tests.factories import LeadFactory

# In the team's zone: this very Tuesday, before NOW.
THIS_MORNING = datetime(2026, 3, 3, 8, 0, tzinfo=UTC)


@pytest.fixture
def lead(cast: Cast) -> Lead:
    return LeadFactory(team=cast.team, organisation="Fernwick Library")


@pytest.fixture
def hour(cast: Cast) -> Format:
    ensure_formats(cast.team)
    return Format.objects.get(team=cast.team, name="Discovery hour")


@pytest.fixture
def booked(cast: Cast, lead: Lead, hour: Format) -> DiscoverySession:
    """A session of this morning: Olive facilitates, Mateus takes notes."""
    return book(
        lead=lead,
        member=cast.owner,
        now=NOW,
        format=hour,
        starts_at=THIS_MORNING,
        minutes=60,
        crew={Part.FACILITATOR: [cast.owner], Part.NOTE_TAKER: [cast.member]},
    )


@pytest.fixture
def takeaway(cast: Cast, booked: DiscoverySession) -> Deliverable:
    """What is owed after this morning's session was held."""
    hold(session=booked, member=cast.owner, now=NOW)
    return Deliverable.objects.get(session=booked)
