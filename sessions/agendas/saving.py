"""Store drafts. A format that has been used is never changed: an edit makes the next version."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Self

from django.db import IntegrityError, transaction
from django.db.models import F, Max

from pipeline.teams.models import Stale, Team
from pipeline.teams.refused import Refused
from sessions.models import Format, Promise, Step

from .draft import Draft, draft_of


@dataclass(frozen=True)
class Seen:
    """What the writer of a draft had before them: the newest version and its edits in place."""

    latest: int
    revision: int

    def __str__(self) -> str:
        return f"{self.latest}.{self.revision}"

    @classmethod
    def read(cls, text: str) -> Self:
        """Read what ``str`` wrote; anything else is what nobody has seen."""
        latest, _, revision = text.partition(".")
        if not (text.isascii() and latest.isdecimal() and revision.isdecimal()):
            return cls(0, 0)
        return cls(int(latest), int(revision))


def seen(format: Format) -> Seen:
    """Return what somebody who opens ``format`` now has before them."""
    versions = Format.objects.filter(team=format.team_id, name=format.name)
    return Seen(versions.aggregate(latest=Max("version"))["latest"] or 0, format.revision)


def used(format: Format) -> bool:
    """Tell whether a session was ever booked with this version."""
    return format.sessions.exists()


@transaction.atomic
def make(*, team: Team, draft: Draft) -> Format:
    """Store a new format."""
    if Format.objects.for_team(team).filter(name=draft.name).exists():
        raise Refused(f"There is a format “{draft.name}” already; give another name.", "name")
    return _store(Format(team=team, name=draft.name), draft)


@transaction.atomic
def amend(*, format: Format, draft: Draft, expected: Seen, now: datetime) -> Format:
    """Store a changed format and return it: the same row while unused, else the next version.

    The versions before the next one are no longer booked; sessions keep theirs. ``Stale`` where
    somebody else stored a change since ``expected``.
    """
    # Locked against bookings too, whose new row holds on to its format.
    versions = list(
        Format.objects.select_for_update()
        .filter(team=format.team_id, name=format.name)
        .order_by("version")
    )
    row = next((version for version in versions if version.pk == format.pk), None)
    if row is None or Seen(versions[-1].version, row.revision) != expected:
        raise Stale(row or format)
    if draft == draft_of(row):
        return row
    if not used(row):
        if draft.name != row.name and len(versions) > 1:
            raise Refused("Earlier versions have this name; copy it to give another.", "name")
        Format.objects.filter(pk=row.pk).update(revision=F("revision") + 1)
        row.revision += 1
        row.steps.all().delete()
        row.promises.all().delete()
        return _store(row, draft)
    if draft.name != row.name:
        raise Refused("Sessions were booked by this name; copy it to give another.", "name")
    for version in versions:
        if version.retired_on is None:
            version.retired_on = row.team.today(now)
            version.save(update_fields=["retired_on"])
    return _store(
        Format(team_id=row.team_id, name=row.name, version=versions[-1].version + 1), draft
    )


def _store(row: Format, draft: Draft) -> Format:
    row.name, row.minutes, row.purpose = draft.name, draft.minutes, draft.purpose
    try:
        with transaction.atomic():
            row.save()
    except IntegrityError:
        raise Refused(
            f"There is a format “{draft.name}” already; give another name.", "name"
        ) from (None)
    Step.objects.bulk_create(
        Step(team_id=row.team_id, format=row, position=position, **vars(step))
        for position, step in enumerate(draft.steps, start=1)
    )
    Promise.objects.bulk_create(
        Promise(team_id=row.team_id, format=row, **vars(promise)) for promise in draft.promises
    )
    return row


@transaction.atomic
def retire(*, format: Format, now: datetime) -> bool:
    """Take a format from booking; returns whether it was booked until now."""
    rows = Format.objects.filter(pk=format.pk, retired_on=None)
    return bool(rows.update(retired_on=format.team.today(now)))


@transaction.atomic
def bring_back(*, format: Format) -> bool:
    """Let a format be booked again, in place of its other versions; returns whether it was not."""
    versions = Format.objects.select_for_update().filter(team=format.team_id, name=format.name)
    today = {row.pk: row.retired_on for row in versions}
    if today.get(format.pk) is None:
        return False
    if any(row.retired_on is None for row in versions):
        raise Refused("Another version of it is booked now; retire that one first.")
    Format.objects.filter(pk=format.pk).update(retired_on=None)
    return True
