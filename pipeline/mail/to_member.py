"""Letters that the app writes to a member of its own accord: each belongs to a list of Stops."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.conf import settings
from django.template.loader import render_to_string

from pipeline.teams.models import Member

from .models import Letter, Stops
from .outbox import close_up, write
from .stopping import stop_link


def write_to_member(
    member: Member,
    *,
    stops: Stops,
    key: str,
    subject: str,
    template: str,
    context: dict[str, Any],
    due_at: datetime,
) -> Letter:
    """Write a letter by ``mail/<template>.txt`` and ``.html``, which say why it comes.

    ``key`` names the cause; of one cause each member gets one letter. Both templates extend
    ``mail/to_member``, which says how to stop the list.
    """
    addressee: dict[str, Any] = {
        "team": member.team,
        "member": member,
        "to": member.user.email,
        "stops": stops,
    }
    told = {
        "member": member,
        "team": member.team,
        "list": stops.label,
        "base_url": settings.BASE_URL,
        "stop_link": stop_link(Letter(**addressee)),
        **context,
    }
    return write(
        key=f"{stops.value}|{key}|{member.pk}",
        subject=subject,
        text=close_up(render_to_string(f"mail/{template}.txt", told)),
        html=render_to_string(f"mail/{template}.html", told),
        due_at=due_at,
        **addressee,
    )
