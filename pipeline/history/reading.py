"""Changes in words: which field, what it said before, what it says now."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.apps import apps
from django.db import models
from django.utils.formats import date_format
from django.utils.timezone import localtime

from .models import Change
from .values import as_stored

NOTHING = "—"
# A long text is told by its beginning.
LONGEST = 300


@dataclass(frozen=True)
class Line:
    """One field that was changed; of a removed row, what it said."""

    label: str
    before: str
    after: str


@dataclass(frozen=True)
class Entry:
    """One change in words."""

    change: Change
    # What kind of row it was: ``decision``.
    kind: str
    lines: tuple[Line, ...]

    @property
    def lead(self) -> str:
        """The lead to which a removed row belonged; empty for none."""
        return next((line.before for line in self.lines if line.label == "Lead"), "")

    @property
    def who(self) -> str:
        """Who made it."""
        return str(self.change.member) if self.change.member_id else "the program, by itself"


def model_of(table: str) -> type[models.Model] | None:
    """Return the model whose rows lie in ``table``; ``None`` where there is none any more."""
    found = apps.get_models(include_auto_created=True)
    return next((model for model in found if model._meta.db_table == table), None)


def in_words(changes: Iterable[Change]) -> list[Entry]:
    """Return changes in words; one query for each kind of row that they point to."""
    rows = list(changes)
    names = _names(rows)
    return [entry for row in rows if (entry := _entry(row, names)) is not None]


def _entry(change: Change, names: dict[tuple[type, Any], str]) -> Entry | None:
    model = model_of(change.table)
    if model is None:
        return None
    fields = {field.column: field for field in model._meta.concrete_fields}
    lines = []
    for column, said in change.said.items():
        field = fields.get(column)
        if field is None or field.primary_key or column in ("team_id", "version"):
            continue
        before, after = (said, None) if change.removed else said
        line = Line(_label(field), _shown(field, before, names), _shown(field, after, names))
        if not change.removed or line.before != NOTHING:
            lines.append(line)
    return Entry(change, str(model._meta.verbose_name), tuple(lines))


def _label(field: models.Field[Any, Any]) -> str:
    label = str(field.verbose_name)
    return label[:1].upper() + label[1:]


def _shown(field: models.Field[Any, Any], raw: Any, names: dict[tuple[type, Any], str]) -> str:
    value = as_stored(field, raw)
    if value is None or value == "":
        return NOTHING
    if isinstance(field, models.ForeignKey):
        return names.get((_pointed_to(field), value), f"no. {value}, which is gone")
    if field.choices:
        return str(dict(field.flatchoices).get(value, value))
    if isinstance(value, Decimal):
        return format(value.normalize(), "f")
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return date_format(localtime(value), "D j M Y, H:i")
    if isinstance(value, date):
        return date_format(value, "D j M Y")
    told = str(value)
    return told if len(told) <= LONGEST else f"{told[:LONGEST]}…"


def _pointed_to(field: models.ForeignKey[Any, Any]) -> type[models.Model]:
    model = field.related_model
    return field.model if isinstance(model, str) else model


def _names(changes: Iterable[Change]) -> dict[tuple[type, Any], str]:
    """Return the names of all rows to which the changes point."""
    keys: dict[type[models.Model], set[Any]] = defaultdict(set)
    for change in changes:
        model = model_of(change.table)
        for field in model._meta.concrete_fields if model else ():
            said = change.said.get(field.column)
            if not isinstance(field, models.ForeignKey) or said is None or field.name == "team":
                continue
            keys[_pointed_to(field)].update(
                key for key in ([said] if change.removed else said) if key is not None
            )
    found: dict[tuple[type, Any], str] = {}
    for model, wanted in keys.items():
        rows = model._base_manager.filter(pk__in=wanted)
        if any(field.name == "user" for field in model._meta.concrete_fields):
            rows = rows.select_related("user")
        found |= {(model, row.pk): str(row) for row in rows}
    return found
