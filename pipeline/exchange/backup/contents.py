"""What a database holds, asked of the copy that goes into a backup."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from typing import Any

from django.apps import apps
from django.db import models

from pipeline.history.models import Change

# Asks one question in SQL.
Ask = Callable[[str], list[tuple[Any, ...]]]
# Of tables and their columns.
Columns = set[tuple[str, str]]


def rows(ask: Ask, columns: Columns) -> dict[str, int]:
    """Return how many rows each table has."""
    tables = sorted({table for table, _ in columns})
    return {table: ask(f'SELECT count(*) FROM "{table}"')[0][0] for table in tables}


def migrations(ask: Ask, columns: Columns) -> tuple[str, ...]:
    """Return the migrations that the tables have seen."""
    if ("django_migrations", "app") not in columns:
        return ()
    seen = ask("SELECT app, name FROM django_migrations")
    return tuple(sorted(f"{app}.{name}" for app, name in seen))


def named_files(ask: Ask, columns: Columns) -> set[str]:
    """Return the uploads that rows name, and removed rows that can still be put back."""
    kept = {field: field.model._meta.db_table for field in _file_fields()}
    there = {field: table for field, table in kept.items() if (table, field.column) in columns}
    named = {
        name
        for field, table in there.items()
        for (name,) in ask(f'SELECT "{field.column}" FROM "{table}"')
    }
    if (Change._meta.db_table, "put_back_at") in columns:
        tables = ", ".join(f"'{table}'" for table in sorted(set(there.values())))
        removed = ask(
            f'SELECT "table", said FROM history_change WHERE "table" IN ({tables})'
            " AND removed AND put_back_at IS NULL"
        )
        for table, raw in removed:
            said = json.loads(raw) if isinstance(raw, str) else raw
            named |= {said.get(field.column) for field, of in there.items() if of == table}
    return {name for name in named if name}


def _file_fields() -> Iterator[models.FileField]:
    for model in apps.get_models():
        for field in model._meta.concrete_fields:
            if isinstance(field, models.FileField):
                yield field
