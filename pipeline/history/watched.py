"""Which tables are watched, and for what."""

from __future__ import annotations

from dataclasses import dataclass

from django.apps import apps
from django.conf import settings
from django.db import models

from pipeline.teams.models import Team

# Changes with every edit, and says nothing.
VERSION = "version"


@dataclass(frozen=True)
class Watched:
    """A table whose removed rows are kept, and, where it has ``columns``, their changes too."""

    table: str
    # Where a row's team and lead stand, as SQL on OLD.
    team: str
    lead: str
    # All of them; and those whose changes are kept.
    stored: tuple[str, ...]
    columns: tuple[str, ...]


def watched() -> list[Watched]:
    """Return every table of a team's rows, as ``settings.HISTORY`` says what is kept of it."""
    found = []
    for model in apps.get_models(include_auto_created=True):
        label = model._meta.label_lower
        if label in settings.NO_HISTORY:
            continue
        team = _team_of(model)
        if team:
            found.append(_watched(model, team, settings.HISTORY.get(label)))
    return found


def _team_of(model: type[models.Model]) -> str:
    """Return as SQL on OLD where a row's team stands; empty for a table of no team."""
    fields = {field.name: field for field in model._meta.concrete_fields}
    if "team" in fields and fields["team"].related_model is Team:
        return 'OLD."team_id"'
    if model._meta.auto_created:
        # Joins two rows of one team: the team stands in the first.
        joined = next(field for field in model._meta.concrete_fields if field.is_relation)
        parent = joined.related_model
        if isinstance(parent, type) and "team" in {f.name for f in parent._meta.concrete_fields}:
            return (
                f'(SELECT team_id FROM "{parent._meta.db_table}" WHERE id = OLD."{joined.column}")'
            )
    return ""


def _watched(model: type[models.Model], team: str, ignored: list[str] | None) -> Watched:
    stored = tuple(field.column for field in model._meta.concrete_fields)
    columns: tuple[str, ...] = ()
    if ignored is not None:
        left_out = {VERSION, *ignored}
        columns = tuple(f.column for f in model._meta.concrete_fields if f.name not in left_out)
    lead = "NULL"
    if model._meta.label_lower == "leads.lead":
        lead = 'OLD."id"'
    elif "lead_id" in stored:
        lead = 'OLD."lead_id"'
    return Watched(model._meta.db_table, team, lead, stored, columns)
