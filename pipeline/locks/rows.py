"""Which tables hold a team's rows, and which of their columns lead to other rows of a team."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.apps import apps
from django.db import models

# What due work has (pipeline/claims), by its columns.
QUEUE = {"next_attempt_at", "claim", "claimed_at", "attempts"}


@dataclass(frozen=True)
class Owned:
    """A table with a team's rows."""

    table: str
    columns: frozenset[str]

    @property
    def of_person(self) -> bool:
        """Whether a row is also a person's own: a membership."""
        return "user_id" in self.columns

    @property
    def of_bearer(self) -> bool:
        """Whether a row can be found from outside by the secret in its address."""
        return "token" in self.columns

    @property
    def queue(self) -> bool:
        """Whether its rows are due work."""
        return self.columns >= QUEUE


@dataclass(frozen=True)
class Reference:
    """A column that leads from one team's row to another row, which must be of the same team."""

    table: str
    column: str
    parent: str


@dataclass(frozen=True)
class Joining:
    """A table without a team, that joins rows of two tables; ``ends`` are column and parent."""

    table: str
    ends: tuple[tuple[str, str], tuple[str, str]]


def owned() -> list[Owned]:
    """Return every table whose rows name their team."""
    return [
        Owned(model._meta.db_table, frozenset(f.column for f in model._meta.concrete_fields))
        for model in _of_teams()
    ]


def references() -> list[Reference]:
    """Return every foreign key from a team's row to a team's row."""
    of_teams = set(_of_teams())
    return [
        Reference(model._meta.db_table, field.column, field.related_model._meta.db_table)
        for model in _of_teams()
        for field in _foreign_keys(model)
        if field.related_model in of_teams
    ]


def joinings() -> list[Joining]:
    """Return every table that joins a team's rows to a team's rows."""
    of_teams = set(_of_teams())
    found = []
    for model in _stored():
        keys = list(_foreign_keys(model))
        if (
            model._meta.auto_created
            and len(keys) == 2
            and all(key.related_model in of_teams for key in keys)
        ):
            one, other = ((key.column, key.related_model._meta.db_table) for key in keys)
            found.append(Joining(model._meta.db_table, (one, other)))
    return found


def _stored() -> list[type[models.Model]]:
    every = apps.get_models(include_auto_created=True)
    return [model for model in every if model._meta.managed and not model._meta.proxy]


def _of_teams() -> list[type[models.Model]]:
    team = apps.get_model("teams", "Team")
    return [
        model
        for model in _stored()
        if any(f.name == "team" and f.related_model is team for f in model._meta.concrete_fields)
    ]


def _foreign_keys(model: type[models.Model]) -> Iterator[Any]:
    for field in model._meta.concrete_fields:
        # A key without a constraint may outlive its row: it is a mark, no way.
        if isinstance(field, models.ForeignKey) and getattr(field, "db_constraint", False):
            yield field
