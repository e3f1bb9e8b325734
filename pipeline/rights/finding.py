"""Where a team's rows name somebody, and taking the name out of what nobody edits by hand."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import models, transaction
from django.db.models import F, Q, Value
from django.db.models.functions import Cast, Replace

from pipeline.teams.acting import acting
from pipeline.teams.models import Member, Team, Versioned

from .tables import Table, by_hand, called, page_of, team_tables
from .words import INSTEAD, Words

# Of the bytes of a spreadsheet nobody knows the letters beforehand.
ENCODINGS = ("utf-8", "cp1252")


@dataclass(frozen=True)
class Mention:
    """One field of one row that names somebody."""

    row: Any
    field: Any
    excerpt: str
    by_hand: bool
    url: str

    @property
    def kind(self) -> str:
        """What kind of row it is."""
        return called(type(self.row))

    @property
    def label(self) -> str:
        """What the field is called."""
        return str(self.field.verbose_name)

    @property
    def key(self) -> str:
        """What tells its row from all others."""
        return f"{self.row._meta.label_lower}-{self.row.pk}"


def mentions(team: Team, words: Words, *, but: Collection[models.Model] = ()) -> list[Mention]:
    """Return every field of the team's rows that holds one of ``words``; one query a table."""
    found = []
    for row, field in naming(team, words, team_tables()):
        if row in but:
            continue
        told = excerpt(row, field, words)
        found.append(Mention(row, field, told, by_hand(row, field), page_of(row, team)))
    return found


def naming(team: Team, words: Words, tables: Iterable[Table]) -> Iterator[tuple[Any, Any]]:
    """Yield rows, with the field that holds one of ``words``."""
    if not words:
        return
    for table in tables:
        texts = {f"in_{field.name}": _as_text(field) for field in table.fields}
        maybe = Q(pk__in=[])
        for field in table.fields:
            # bytes are read here; few rows have any
            binary = isinstance(field, models.BinaryField)
            maybe |= Q(pk__isnull=False) if binary else words.narrow(f"in_{field.name}")
        objects: Any = table.model._base_manager
        rows = objects.filter(team=team).alias(**texts).filter(maybe).order_by("pk")
        for row in rows.iterator():
            if getattr(row, "private", False):
                # a letter of somebody's account: it lets its reader in
                continue
            for field in table.fields:
                if excerpt(row, field, words):
                    yield row, field


def _as_text(field: Any) -> Any:
    if isinstance(field, models.BinaryField):
        return Value("", models.TextField())
    text = Cast(field.name, models.TextField())
    # A line of a calendar file goes on after a break and a space (RFC 5545, 3.1).
    if field.name == "calendar":
        fold, nothing = (Value(said, models.TextField()) for said in ("\r\n ", ""))
        return Replace(text, fold, nothing)
    return text


def excerpt(row: Any, field: Any, words: Words) -> str:
    """Return where a field names somebody, with what is about it; empty where it does not."""
    value = getattr(row, field.attname)
    if value is None:
        return ""
    if isinstance(field, models.BinaryField):
        return next((words.around(line) for line in _lines(value) if words.within(line)), "")
    if isinstance(field, models.JSONField):
        return next((words.around(text) for text in words.strings_in(value)), "")
    return words.around(value.replace("\r\n ", "") if field.name == "calendar" else value)


def _lines(value: Any) -> list[str]:
    content = bytes(value)
    try:
        return content.decode("utf-8").splitlines()
    except UnicodeDecodeError:
        return content.decode("cp1252", errors="replace").splitlines()


@transaction.atomic
def take_out(
    *, team: Team, words: Words, chosen: Collection[str], member: Member | None, now: datetime
) -> int:
    """Take ``words`` out of the chosen rows that nobody edits by hand; returns of how many.

    The history keeps no trace of it: it would keep the words.
    """
    done = set()
    with acting(member=member.pk if member else None, now=now, kept=False):
        for hit in mentions(team, words):
            if hit.key in chosen and not hit.by_hand:
                put_instead(hit.row, hit.field, words)
                done.add(hit.key)
    return len(done)


def put_instead(row: Any, field: Any, words: Words) -> None:
    """Store one field of a row without ``words``; whoever has the row open in a form is told."""
    changes: dict[str, Any] = {field.attname: without(row, field, words)}
    if isinstance(row, Versioned):
        changes["version"] = F("version") + 1
    type(row)._base_manager.filter(pk=row.pk).update(**changes)


def without(row: Any, field: Any, words: Words) -> Any:
    """Return what a field of a row says without ``words``."""
    value = getattr(row, field.attname)
    if isinstance(field, models.BinaryField):
        return _bytes_without(bytes(value), words)
    if isinstance(field, models.JSONField):
        return words.out_of(value)
    if isinstance(field, models.EmailField) or field.name == "calendar":
        # No half of an address is one, and no half of a calendar file.
        return ""
    # Keys tell rows apart, with the words or without.
    instead = f"erased {row.pk}" if field.name == "key" else INSTEAD
    return words.without(value, instead)[: field.max_length]


def _bytes_without(content: bytes, words: Words) -> bytes:
    """Return a spreadsheet with nothing in the words' place: no cell begins or ends anew."""
    for encoding in ENCODINGS:
        try:
            text = content.decode(encoding)
        except UnicodeDecodeError:
            continue
        return words.without(text, "").encode(encoding)
    return content
