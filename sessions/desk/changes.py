"""What changed at a desk since a number that a client has seen."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sessions.models import Desk, DiscoverySession, Note, RunEvent, Statement, Theme
from sessions.models.caught import Caught


def changes_since(session: DiscoverySession, seen: int) -> dict[str, Any]:
    """Return the desk's number and the rows that were written after the number ``seen``.

    The number is read first: a row written meanwhile is told twice rather than never.
    """
    desks = Desk.objects.for_team(session.team).filter(session=session)
    changed = desks.values_list("changed", flat=True).first() or 0
    found: dict[str, Any] = {"changed": changed}
    if changed == seen:
        return found
    if seen > changed:
        # From another time of this database: all is told anew.
        seen = 0
    of_session = {"team": session.team, "session": session, "changed__gt": seen}
    themes = Theme.objects.filter(**of_session).select_related("merged_into")
    notes = Note.objects.filter(**of_session).select_related("theme", "beside")
    statements = Statement.objects.filter(**of_session).select_related("beside")
    found["themes"] = [_theme(row) for row in themes]
    found["notes"] = [_note(row) for row in notes]
    found["statements"] = [_statement(row) for row in statements]
    found["presses"] = [_press(row) for row in RunEvent.objects.filter(**of_session)]
    return found


def milliseconds(at: datetime) -> int:
    """Return a moment as browsers count: milliseconds since 1970."""
    return round(at.timestamp() * 1000)


def _caught(row: Caught) -> dict[str, Any]:
    return {
        "key": str(row.key),
        # What was stored first stands first among what was typed at the same moment.
        "order": row.pk,
        "at": milliseconds(row.at),
        "let_go": row.let_go,
        "changed": row.changed,
    }


def _theme(row: Theme) -> dict[str, Any]:
    into = str(row.merged_into.key) if row.merged_into else ""
    return _caught(row) | {"title": row.title, "position": row.position, "into": into}


def _note(row: Note) -> dict[str, Any]:
    return _caught(row) | {
        "text": row.text,
        "opportunity": row.opportunity,
        "theme": str(row.theme.key) if row.theme else "",
        "beside": str(row.beside.key) if row.beside else "",
    }


def _statement(row: Statement) -> dict[str, Any]:
    return _caught(row) | {
        "text": row.text,
        "votes": row.votes,
        "step": str(row.step_id),
        "beside": str(row.beside.key) if row.beside else "",
    }


def _press(row: RunEvent) -> dict[str, Any]:
    return {
        "key": str(row.key),
        "kind": row.kind,
        "at": milliseconds(row.at),
        "order": row.pk,
        "step": str(row.step_id or ""),
        "minutes": row.minutes,
    }
