"""A letter for tests."""

from __future__ import annotations

from pipeline.mail.models import Letter
from pipeline.mail.outbox import write
from pipeline.teams.models import Member
from tests.conftest import NOW


def letter_to(member: Member, *, key: str = "note", **rest) -> Letter:
    given = {
        "subject": f"To {member.user.name}",
        "text": "In plain words.",
        "html": "<!doctype html><p>In plain words.</p>",
        "due_at": NOW,
        **rest,
    }
    return write(team=member.team, member=member, to=member.user.email, key=key, **given)
