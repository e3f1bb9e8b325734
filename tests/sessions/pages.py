"""Addresses and posts that several tests of sessions share."""

from __future__ import annotations

import re
import uuid
from typing import Any

from django.urls import reverse

from pipeline.teams.models import Team
from sessions.models import DiscoverySession


def at(team: Team, name: str, *args: Any) -> str:
    """Return the address of a page of ``team``."""
    return reverse(name, args=[team.slug, *args])


def booking(cast: Any, hour: Any, **changes: Any) -> dict[str, Any]:
    """Return what a browser posts to book a session tomorrow."""
    return {
        "submission": str(uuid.uuid4()),
        "format": hour.pk,
        "starts_at": "2026-03-04T10:00",
        "minutes": "",
        "place": "https://meet.example/1",
        "facilitator": cast.member.pk,
        "note_taker": "",
        "all_the_same": "",
    } | changes


def editing(session: DiscoverySession, **changes: Any) -> dict[str, Any]:
    """Return what a browser posts from the edit page of ``session`` opened in Lisbon's winter."""
    crew = {place.part: place.member_id for place in session.crew.all()}
    opened = {
        "starts_at": f"{session.starts_at:%Y-%m-%dT%H:%M}" if session.starts_at else "",
        "minutes": session.minutes,
        "place": session.place,
        "facilitator": crew.get("facilitator", ""),
        "note_taker": crew.get("note-taker", ""),
        "attendee_count": session.attendee_count or "",
        "effort_before": "",
        "effort_during": "",
        "effort_after": "",
    }
    initial = {f"initial-{name}": value for name, value in opened.items()}
    return opened | initial | {"version": session.version, "all_the_same": ""} | changes


def box_of(page: Any, name: str) -> str:
    """Return the value of the checkbox ``name`` on a page."""
    for tag in re.findall(r"<input[^>]*>", page.content.decode()):
        if f'name="{name}"' in tag and 'type="checkbox"' in tag:
            found = re.search(r'value="([^"]*)"', tag)
            assert found
            return found[1]
    raise AssertionError(f"no box {name} on the page")


def said(page: Any) -> list[str]:
    """Return what the program said on a page that was followed to."""
    return [str(message) for message in page.context["messages"]]
