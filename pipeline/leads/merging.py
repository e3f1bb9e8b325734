"""Two leads that are one: merge them, and part them again.

Rows of higher floors move too, found through the foreign keys that name a lead. A row that would
break a rule of uniqueness (the same decision on the same day) stays where it is.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime
from typing import Any

from django.db import IntegrityError, models, transaction
from django.db.models import F

from pipeline.teams.models import Member, Versioned
from pipeline.teams.refused import Refused

from .models import Lead, Merge
from .rules import hold
from .settle import settle


def references() -> Iterator[tuple[str, type[models.Model], str]]:
    """Yield a label, the model and the field of everything that names a lead.

    Left out are the leads and merges themselves: they tell what became of a lead.
    """
    for relation in Lead._meta.get_fields(include_hidden=True):
        if not isinstance(relation, models.ManyToOneRel):
            continue
        model, field = relation.related_model, relation.field.name
        if model not in (Lead, Merge) and isinstance(model, type):
            yield f"{model._meta.label_lower}.{field}", model, field


@transaction.atomic
def merge(*, kept: Lead, gone: Lead, member: Member | None, now: datetime) -> Merge:
    """Move all that belongs to ``gone`` to ``kept``. The fields of ``kept`` stay as they are."""
    if kept.pk == gone.pk:
        raise Refused("A lead cannot be merged into itself. Choose another one.")
    if kept.team_id != gone.team_id:
        raise Refused("These leads belong to different teams.")
    # in one order, so that two merges at once never wait for each other
    for pk in sorted((kept.pk, gone.pk)):
        hold(pk)
    moved = {}
    for label, model, field in references():
        pks = model._base_manager.filter(**{field: gone}).values_list("pk", flat=True)
        moved[label] = _move(model, field, list(pks), gone, kept)
    # a new version: whoever has the gone lead open in a form is told
    Lead.objects.filter(pk=gone.pk).update(merged_into=kept, version=F("version") + 1)
    gone.refresh_from_db()
    merged: Merge = Merge.objects.create(
        team_id=kept.team_id,
        kept=kept,
        gone=gone,
        moved={label: pks for label, pks in moved.items() if pks},
        merged_at=now,
        merged_by=member,
    )
    settle(kept.team, [kept.pk, gone.pk], now=now)
    return merged


@transaction.atomic
def unmerge(*, merge: Merge, now: datetime) -> Merge:
    """Part two leads again; what was added since the merge stays with the lead that was kept."""
    kept, gone = (Lead.objects.lock(pk) for pk in sorted((merge.kept_id, merge.gone_id)))
    if kept.pk != merge.kept_id:
        kept, gone = gone, kept
    merge.refresh_from_db()
    if merge.undone_at is not None:
        raise Refused("These leads were parted already.")
    if kept.merged_into is not None:
        raise Refused(
            f"Since then {kept} was itself merged into {kept.merged_into}. Undo that first."
        )
    for label, model, field in references():
        _move(model, field, merge.moved.get(label, []), kept, gone)
    Lead.objects.filter(pk=gone.pk).update(merged_into=None, version=F("version") + 1)
    merge.undone_at = now
    merge.save(update_fields=["undone_at"])
    settle(kept.team, [kept.pk, gone.pk], now=now)
    return merge


def _move(
    model: type[models.Model], field: str, pks: list[Any], from_lead: Lead, to_lead: Lead
) -> list[Any]:
    """Hand rows over, and return the keys of those that went."""
    changes: dict[str, Any] = {field: to_lead}
    if issubclass(model, Versioned):
        # whoever has the row open in a form would otherwise hand it back
        changes["version"] = F("version") + 1

    def hand_over(keys: Iterable[Any]) -> None:
        rows = model._base_manager.filter(pk__in=keys, **{field: from_lead})
        with transaction.atomic():
            rows.update(**changes)

    went = []
    try:
        hand_over(pks)
    except IntegrityError:
        for pk in pks:
            try:
                hand_over([pk])
            except IntegrityError:
                continue
            went.append(pk)
    else:
        went = pks
    return went
