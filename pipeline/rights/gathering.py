"""Everything that a team's rows say of one person, with readable keys, and the files for them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db import models

from pipeline.history.models import Change
from pipeline.history.reading import in_words
from pipeline.leads.models import Contact
from pipeline.mail.models import StoppedAddress
from pipeline.teams.models import Team

from .finding import excerpt, naming
from .tables import called, team_tables
from .words import Words

# Secrets, and what tells rows apart and says nothing.
LEFT_OUT = {"team", "version", "key", "token", "claim"}


@dataclass(frozen=True)
class Gathered:
    """A row that is about a person: why it is here, what it says, its file."""

    row: Any
    why: str
    said: dict[str, Any]
    file: Any

    @property
    def kind(self) -> str:
        """What kind of row it is."""
        return called(type(self.row))


@dataclass(frozen=True)
class Everything:
    """All that is known of one person."""

    contact: Contact
    rows: tuple[Gathered, ...]
    history: tuple[dict[str, Any], ...]
    # NULL: they did not ask for it.
    no_more_letters_since: datetime | None
    # How many other people of the team have the same address.
    same_address: int

    def counted(self) -> list[tuple[str, int]]:
        """Return how many rows of each kind there are."""
        return sorted(Counter(found.kind for found in self.rows).items())


def words_of(contact: Contact) -> Words:
    """Return by what a person is found in words: name and address."""
    return Words.of([contact.name, contact.email])


def same_address(contact: Contact) -> Any:
    """Return the other people of the team with this person's address."""
    rows = Contact.objects.filter(team=contact.team_id, email__iexact=contact.email)
    rows = rows.exclude(pk=contact.pk).select_related("lead").order_by("pk")
    return rows if contact.email else rows.none()


def gather(contact: Contact, team: Team) -> Everything:
    """Return all rows that point to a person or name them, and the history of their own row."""
    words = words_of(contact)
    found: dict[tuple[str, int], Gathered] = {}
    for row in _pointing(contact):
        found[_key(row)] = _gathered(row, "is linked to the person", words)
    others = [table for table in team_tables() if table.label != "leads.contact"]
    for row, _ in naming(team, words, others):
        if not _of_own_history(row, contact):
            found.setdefault(_key(row), _gathered(row, "names the person", words))
    stopped = StoppedAddress.objects.of(team, [contact.email])
    return Everything(
        contact,
        tuple(sorted(found.values(), key=lambda one: (one.kind, one.row.pk))),
        tuple(_history(contact)),
        next(iter(stopped.values()), None),
        same_address(contact).count(),
    )


def _key(row: models.Model) -> tuple[str, int]:
    return row._meta.label_lower, row.pk


def _of_own_history(row: models.Model, contact: Contact) -> bool:
    return isinstance(row, Change) and (row.table, row.row) == (
        contact._meta.db_table,
        contact.pk,
    )


def _pointing(contact: Contact) -> Iterator[models.Model]:
    """Yield the rows of each table that points to a contact, by whatever field."""
    for relation in Contact._meta.get_fields(include_hidden=True):
        model: Any = relation.related_model
        if not relation.auto_created or relation.concrete or model._meta.auto_created:
            continue
        field = relation.field  # type: ignore[union-attr]
        yield from model._base_manager.filter(**{field.name: contact}).order_by("pk")


def _history(contact: Contact) -> Iterator[dict[str, Any]]:
    for entry in in_words(Change.objects.of(contact)):
        yield {
            "at": entry.change.at.isoformat(),
            "by": entry.who,
            "fields": [
                {"field": line.label, "before": line.before, "after": line.after}
                for line in entry.lines
            ],
        }


def _gathered(row: Any, why: str, words: Words) -> Gathered:
    said, file = {}, None
    for field in row._meta.concrete_fields:
        if field.primary_key or field.name in LEFT_OUT:
            continue
        if isinstance(field, models.FileField):
            file = getattr(row, field.attname) or file
            continue
        value = _plain(row, field, words)
        if value not in (None, "", []):
            said[str(field.verbose_name)] = value
    return Gathered(row, why, said, file)


def _plain(row: Any, field: Any, words: Words) -> Any:
    """Return what a field says as JSON can hold it; of lists of people no more than this one."""
    value = getattr(row, field.attname)
    if value is None:
        return None
    if isinstance(field, models.ForeignKey):
        related = getattr(row, field.name)
        return None if related is None else str(related)
    if isinstance(field, models.BinaryField):
        return excerpt(row, field, words)
    if isinstance(field, models.JSONField):
        return words.strings_in(value)
    if field.choices:
        return str(dict(field.flatchoices).get(value, value))
    if isinstance(value, (date, datetime)):
        return value.isoformat()
    if isinstance(value, Decimal):
        return format(value.normalize(), "f")
    return value if isinstance(value, (bool, int, str)) else str(value)
