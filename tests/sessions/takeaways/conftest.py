"""A session that was held, with what was caught and written up."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest

from sessions.holding import hold
from sessions.models import DiscoverySession, Note, Statement, Step, Theme
from sessions.takeaways.chart import StepDraft
from sessions.takeaways.writing import draw, write_up
from tests.conftest import NOW

STEPS = (
    StepDraft("Family", "Calls the office and asks for a place"),
    StepDraft("Office", "Writes the call on a slip", "the question"),
    StepDraft("Office", "Looks it up in two ledgers", "", True, "They disagree"),
    StepDraft("Treasurer", "Sends the invoice by post", "a copy of the slip"),
)


def caught(session: DiscoverySession, **more: Any) -> dict[str, Any]:
    """Return what every row that was caught has."""
    return {"team": session.team, "session": session, "key": uuid.uuid4(), "at": NOW} | more


def note(session: DiscoverySession, text: str, second: int = 0, **more: Any) -> Note:
    return Note.objects.create(
        text=text, **caught(session, at=NOW + timedelta(seconds=second), **more)
    )


def kept(file: Any) -> bytes:
    """Return what a stored file holds."""
    with file.open("rb") as opened:
        return opened.read()


@pytest.fixture
def held(cast, booked) -> DiscoverySession:
    return hold(session=booked, member=cast.owner, now=NOW)


@pytest.fixture
def heard(held) -> DiscoverySession:
    """Two themes, three notes, three statements with votes, a write-up and a chart."""
    first = Theme.objects.create(title="Answering takes days", position=1, **caught(held))
    second = Theme.objects.create(title="Two ledgers", position=2, **caught(held))
    note(held, "Families call three times before anybody answers.", 1, theme=first)
    asked = "How might we keep one ledger?"
    note(held, "Each office keeps a ledger of its own.", 2, theme=second, opportunity=asked)
    note(held, "The roof leaks.", 3)
    step = Step.objects.filter(format=held.format, catches="statements").first()
    for text, votes in (("They know us by name", 2), ("We answer the same day", 5), ("Price", 0)):
        Statement.objects.create(step=step, text=text, votes=votes, **caught(held))
    write_up(
        session=held,
        expected_version=1,
        challenge="How might each family get an answer the same day?",
        goal="By the summer nobody asks twice.",
        opportunities="What if families saw the free places themselves?",
        next_steps="Speak again on 12 March\nSend both ledgers",
    )
    draw(session=held, expected_version=1, steps=STEPS)
    return held
