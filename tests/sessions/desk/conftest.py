"""A session with steps that catch something, and hands that write at its desk."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from typing import Any

import pytest

from sessions.desk.entries import read_entry
from sessions.desk.taking_in import take_in
from sessions.models import DiscoverySession, Note, Statement, Step, Theme
from tests.conftest import NOW


@pytest.fixture
def session(booked: DiscoverySession) -> DiscoverySession:
    """This morning's session."""
    return booked


@pytest.fixture
def steps(session: DiscoverySession) -> list[Step]:
    assert session.format
    return list(session.format.steps.all())


@pytest.fixture
def send(cast, session) -> Callable[..., str]:
    """Return a function that sends one entry as a member, and gives its key; refusals are kept."""

    def sent(kind: str, *, by: Any = None, now: Any = NOW, key: str = "", **fields: Any) -> str:
        key = key or str(uuid.uuid4())
        entry = read_entry({"kind": kind, "key": key, **fields}, now)
        assert entry
        refused = take_in(session=session, member=by or cast.member, now=now, entries=[entry])
        sent.refused = [refusal.why for refusal in refused]  # type: ignore[attr-defined]
        return key

    return sent


def notes(session: DiscoverySession) -> list[tuple[str, str]]:
    """Return the kept notes in order, each with its theme."""
    kept = Note.objects.kept().filter(session=session).select_related("theme")
    return [(note.text, note.theme.title if note.theme else "") for note in kept]


def themes(session: DiscoverySession) -> list[str]:
    """Return the kept themes in order."""
    return [theme.title for theme in Theme.objects.kept().filter(session=session)]


def votes(session: DiscoverySession) -> list[tuple[str, int]]:
    """Return the kept statements, most votes first."""
    ranked = Statement.objects.ranked().filter(session=session)
    return [(statement.text, statement.votes) for statement in ranked]
