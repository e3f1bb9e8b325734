"""Write a letter: a row, in the transaction of what causes it; it is sent later."""

from __future__ import annotations

import re
import uuid
from datetime import datetime
from urllib.parse import urlsplit

from django.conf import settings

from pipeline.claims.waking import wake
from pipeline.teams.models import Member, Team

from .models import Letter


def write(
    *,
    team: Team,
    key: str,
    to: str,
    subject: str,
    text: str,
    due_at: datetime,
    html: str = "",
    calendar: str = "",
    member: Member | None = None,
    by: Member | None = None,
    stops: str = "",
    private: bool = False,
) -> Letter:
    """Store a letter to be sent at ``due_at``; of one cause (``key``) there is only ever one.

    ``stops`` names the list that its addressee may leave by it (``Stops``); empty: none.
    ``private``: it lets its reader in, so nobody else is shown it.
    """
    letter: Letter
    letter, new = Letter.objects.get_or_create(
        team=team,
        key=key,
        defaults={
            "member": member,
            "to": to,
            # a line break would start another header
            "subject": " ".join(subject.split())[:250],
            "text": text,
            "html": html,
            "calendar": calendar,
            "by": by,
            "stops": stops,
            "private": private,
            "due_at": due_at,
            "next_attempt_at": due_at,
        },
    )
    if new:
        wake()
    return letter


def goes_out() -> bool:
    """Tell whether letters leave the app; else they are kept, and a private one reaches nobody."""
    return settings.MAIL_SERVER is not None


def close_up(text: str) -> str:
    """Leave one empty line where a template left several."""
    return re.sub(r"\n{3,}", "\n\n", text).strip() + "\n"


def message_id(letter: Letter) -> str:
    """Return the letter's Message-ID: the same at every attempt, so that a double is seen."""
    cause = uuid.uuid5(uuid.NAMESPACE_URL, f"{settings.BASE_URL}/{letter.team_id}/{letter.key}")
    return f"<{cause}@{own_host()}>"


def own_host() -> str:
    """Return the host under which this installation is reached."""
    return urlsplit(settings.BASE_URL).hostname or "localhost"
