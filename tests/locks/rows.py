"""A row of a team in any table, whatever it needs; and the tables, read from the models alone."""

from __future__ import annotations

import uuid
from datetime import time, timedelta
from itertools import count
from typing import Any

import numpy as np
import pytest
from django.apps import apps
from django.db import connection, models

from pipeline.teams.models import Team, User
from tests.conftest import NOW, TODAY

on_postgresql = pytest.mark.skipif(
    connection.vendor != "postgresql", reason="SQLite knows no roles and no row-level security"
)
_numbers = count(1)


def has_team(model: type[models.Model]) -> bool:
    return "team" in {field.name for field in model._meta.concrete_fields}


TABLES = {m._meta.label_lower: m for m in apps.get_models() if has_team(m)}
JOINS = {
    m._meta.label_lower: m
    for m in apps.get_models(include_auto_created=True)
    if m._meta.auto_created
    and all(has_team(f.related_model) for f in m._meta.concrete_fields if f.is_relation)
}
KEYS = {
    f"{label}.{field.name}": (model, field)
    for label, model in TABLES.items()
    for field in model._meta.concrete_fields
    if field.is_relation and has_team(field.related_model) and field.db_constraint
}
VALUES: dict[type, Any] = {
    models.BooleanField: False,
    models.BinaryField: b"",
    models.DateTimeField: NOW,
    models.TimeField: time(9),
    models.JSONField: {},
    models.DecimalField: 1,
}


def row_in(model: type[models.Model], team: Team, **given: Any) -> Any:
    """Store a row of ``team``, and whatever it cannot be without."""
    row = unsaved(model, team, **given)
    row.save_base(raw=True)
    return row


def unsaved(model: type[models.Model], team: Team, **given: Any) -> Any:
    fields = [f for f in model._meta.concrete_fields if f.name not in given]
    needed = [f for f in fields if not (f.primary_key or f.null or f.blank or f.has_default())]
    values = {f.name: value(f, team) for f in needed}
    return model(**values | given)


def value(field: Any, team: Team) -> Any:
    if field.related_model is Team:
        return team
    if field.related_model is User:
        return User.objects.create_user(f"person-{next(_numbers)}@rows.example")
    if field.is_relation:
        return row_in(field.related_model, team)
    if field.choices:
        return field.choices[0][0]
    if isinstance(field, models.UUIDField):
        return uuid.uuid4()
    if isinstance(field, (models.CharField, models.TextField, models.FileField)):
        # As short as it can be: some have room for three letters.
        return np.base_repr(next(_numbers), 36)
    for kind, of_kind in VALUES.items():
        if isinstance(field, kind):
            return of_kind
    # What may have to be another one each time: days, numbers.
    number = next(_numbers)
    return TODAY + timedelta(days=number) if isinstance(field, models.DateField) else number
