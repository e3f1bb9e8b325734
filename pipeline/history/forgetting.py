"""After thirty days what was removed is gone: what its row said, and its files."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import models, transaction

from pipeline.teams.models import Team

from .models import KEPT, Change
from .reading import model_of


@transaction.atomic
def forget_removed(team: Team, now: datetime) -> int:
    """Empty the removals of a team that are over; that something was removed stays known.

    Returns how many that were. A removed row whose table is watched for changes keeps who removed
    it and when; all that it said is dropped.
    """
    over = Change.objects.for_team(team).to_be_put_back().filter(at__lt=now - KEPT)
    rows = list(over.exclude(said={}).select_for_update())
    for row in rows:
        for name, storage in _files(row):
            transaction.on_commit(lambda name=name, storage=storage: storage.delete(name))  # type: ignore[misc]
    return Change.objects.filter(pk__in=[row.pk for row in rows]).update(said={})


def _files(change: Change) -> list[tuple[str, Any]]:
    model = model_of(change.table)
    return [
        (change.said[field.column], field.storage)
        for field in (model._meta.concrete_fields if model else ())
        if isinstance(field, models.FileField) and change.said.get(field.column)
    ]
