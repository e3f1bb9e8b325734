"""Put back what one act removed: the row, and what went with it."""

from __future__ import annotations

from datetime import datetime

from django.db import IntegrityError, connection, models, transaction

from pipeline.teams.models import Team
from pipeline.teams.refused import Refused

from .models import KEPT, Change
from .reading import model_of
from .values import as_stored


@transaction.atomic
def put_back(*, team: Team, change: Change, now: datetime) -> set[int]:
    """Put back the removed row of ``change``, with all that the same act removed.

    Returns the keys of the leads whose rows came back; what follows from them is to be settled.
    Called twice it changes nothing. Raises ``Refused`` where the days are over, or where something
    in its place was recorded meanwhile.
    """
    of_act = Change.objects.for_team(team).filter(act=change.act).select_for_update()
    removed = list(of_act.to_be_put_back().order_by("-pk"))
    if not removed:
        return set()
    if change.at < now - KEPT:
        raise Refused("It was removed more than 30 days ago and can't be put back any more.")
    try:
        with transaction.atomic():
            for row in removed:
                _insert(row)
            for row in of_act.filter(removed=False).order_by("-pk"):
                _point_again(row)
            # Keys are looked at only when all is stored; here it is to be known now.
            connection.check_constraints(table_names={row.table for row in removed})
    except IntegrityError:
        raise Refused(
            "Something in its place was recorded meanwhile, or what it belonged to is gone. "
            "Put that back first, or remove what stands there now."
        ) from None
    Change.objects.filter(pk__in=[row.pk for row in removed]).update(put_back_at=now)
    return {row.lead for row in removed if row.lead is not None}


def _insert(change: Change) -> None:
    model = model_of(change.table)
    if model is None:
        return
    values = {
        field.attname: as_stored(field, change.said[field.column])
        for field in model._meta.concrete_fields
        if field.column in change.said
    }
    # Not by save(): nothing about the row is to be made anew.
    model._base_manager.bulk_create([model(**values)])


def _point_again(change: Change) -> None:
    """Let a row that pointed to what was removed point to it again, if it points nowhere."""
    model = model_of(change.table)
    for field in model._meta.concrete_fields if model else ():
        before, after = change.said.get(field.column, (None, None))
        if isinstance(field, models.ForeignKey) and before is not None and after is None:
            rows = field.model._base_manager.filter(pk=change.row, **{field.attname: None})
            rows.update(**{field.attname: as_stored(field, before)})
