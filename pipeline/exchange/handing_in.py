"""A sheet in the browser: kept when handed in, taken in once."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from pipeline.teams.models import Member, Team

from .models import Sheet
from .reading import read
from .taking_in import take_in


def keep_sheet(*, team: Team, member: Member, now: datetime, name: str, content: bytes) -> Sheet:
    """Store a file that was handed in, to be looked through and then taken in."""
    sheet: Sheet = Sheet.objects.create(
        team=team, name=name, content=content, handed_in_at=now, handed_in_by=member
    )
    return sheet


@transaction.atomic
def take_sheet_in(*, sheet: Sheet, member: Member, now: datetime) -> tuple[Sheet, bool]:
    """Take the sheet in; return it, and whether this call did it. The second changes nothing."""
    locked: Sheet = Sheet.objects.select_for_update(no_key=True).get(pk=sheet.pk)
    if locked.taken_in_at is not None:
        return locked, False
    report = take_in(team=sheet.team, table=read(bytes(locked.content)), member=member, now=now)
    locked.taken_in_at, locked.report = now, report.as_json()
    locked.save(update_fields=["taken_in_at", "report"])
    return locked, True
