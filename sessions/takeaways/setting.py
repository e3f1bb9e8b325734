"""Set a takeaway as a PDF."""

from __future__ import annotations

from typing import Any

from django.utils.formats import date_format

from pipeline.teams.models import Team
from pipeline.typeset.pictures import as_drawing
from pipeline.typeset.setting import Document, set_document
from sessions.models import DiscoverySession

from .chart import Chart
from .harvest import Harvest, Ranked, harvest

# What some disk allows in no name.
RESERVED = frozenset('\\/:*?"<>|')
TEMPLATE = "sessions/takeaways/takeaway.typ"


def set_takeaway(session: DiscoverySession) -> Document:
    """Set the takeaway of ``session``, from what was caught and written down until now.

    The same rows give the same bytes: nothing in it but the rows tells the time.
    """
    rows = DiscoverySession.objects.with_names().select_related("team")
    return set_harvest(harvest(rows.prefetch_related("attendees").get(pk=session.pk)))


def set_harvest(found: Harvest) -> Document:
    """Set a takeaway that was read before, of a session with all its names at hand."""
    return set_document(TEMPLATE, content_of(found), day=found.session.day)


def file_name(session: DiscoverySession) -> str:
    """Return what the file is called where it is downloaded."""
    lead = "".join(c if c.isprintable() and c not in RESERVED else " " for c in str(session.lead))
    return f"{'-'.join(lead.split())[:80] or 'lead'}-takeaway-{session.day:%Y-%m-%d}.pdf"


def content_of(found: Harvest) -> dict[str, Any]:
    """Return a takeaway as the template reads it: texts, counts, and a drawing."""
    session, write_up = found.session, found.write_up
    return {
        "title": f"Takeaway for {session.lead}",
        "team": session.team.name,
        "colour": session.team.colour,
        "logo": logo_of(session.team),
        "lead": str(session.lead),
        "day": date_format(session.day, "j F Y"),
        "format": session.format.name if session.format else "",
        "people": [str(contact) for contact in session.attendees.all()],
        "crew": [str(place.member) for place in session.crew.all()],
        "challenge": write_up.challenge,
        "goal": write_up.goal,
        "groups": [
            {"title": group.title, "notes": [note.text for note in group.notes]}
            for group in found.groups
        ],
        "prompts": [_prompt(prompt) for prompt in found.prompts],
        "opportunities": found.opportunities,
        "chart": _chart(found.chart),
        "next_steps": found.next_steps,
    }


def logo_of(team: Team) -> str | None:
    """Return the team's logo as a drawing; ``None`` where there is none, or its file is gone."""
    if not team.logo:
        return None
    try:
        with team.logo.open("rb") as file:
            return as_drawing(file.read())
    except OSError:
        return None


def _prompt(ranked: Ranked) -> dict[str, Any]:
    return {
        "prompt": ranked.prompt,
        "votes": ranked.votes,
        "statements": [
            {
                "text": statement.text,
                "votes": statement.votes,
                "share": statement.votes / ranked.most if ranked.most else 0,
            }
            for statement in ranked.statements
        ],
    }


def _chart(chart: Chart) -> dict[str, Any]:
    return {
        "lanes": chart.lanes,
        "steps": [
            {
                "number": row.number,
                "lane": row.lane,
                "text": row.step.text,
                "look": row.step.look_next,
                "why": row.step.why,
                "given": None
                if row.hand_over is None
                else {
                    "source": row.hand_over.source,
                    "target": row.hand_over.target,
                    "what": row.hand_over.what,
                },
            }
            for row in chart.rows
        ],
    }
