"""Pages by key: the next page starts after the last row shown, not after so many rows.

Rows that come or go meanwhile shift nothing: walking on from page to page meets every row that
stays in place exactly once, in either direction, however long the list.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Any, Generic, TypeVar

from django.db.models import Model, Q, QuerySet
from django.db.models.expressions import Combinable

M = TypeVar("M", bound=Model)

SIZE = 50


@dataclass(frozen=True)
class Order:
    """One order of a list: by ``key``, rows of an equal key by primary key.

    ``read`` makes a value of ``key`` from its text in a cursor; it raises ``ValueError``.
    """

    words: str
    key: Combinable
    read: Callable[[str], Any]
    newest_first: bool = False


@dataclass(frozen=True)
class Page(Generic[M]):
    """Some rows, and the cursors of the pages around them; ``None`` where there is none."""

    rows: list[M] = field(default_factory=list)
    after: str | None = None
    before: str | None = None


def page(
    rows: QuerySet[M], order: Order, *, after: str = "", before: str = "", size: int = SIZE
) -> Page[M]:
    """Return the page of ``rows`` that follows the cursor ``after``, or ends at ``before``.

    Without a cursor, or with one that cannot be read, it is the first page.
    """
    cursor = _read(order, before or after)
    backwards = bool(before) and cursor is not None
    descending = order.newest_first != backwards
    rows = rows.annotate(at=order.key)
    if cursor is not None:
        rows = rows.filter(_beyond(*cursor, descending=descending))
    sign = "-" if descending else ""
    found = list(rows.order_by(f"{sign}at", f"{sign}pk")[: size + 1])
    more = len(found) > size
    found = found[:size]
    if backwards:
        found.reverse()
    if not found:
        return Page()
    return Page(
        rows=found,
        after=_write(found[-1]) if more or backwards else None,
        before=_write(found[0]) if (more if backwards else cursor is not None) else None,
    )


def _beyond(key: Any, pk: int, *, descending: bool) -> Q:
    side = "lt" if descending else "gt"
    return Q((f"at__{side}", key)) | Q(("at", key), (f"pk__{side}", pk))


def _write(row: Any) -> str:
    key = row.at.isoformat() if isinstance(row.at, date) else str(row.at)
    return f"{row.pk}.{key}"


def _read(order: Order, cursor: str) -> tuple[Any, int] | None:
    pk, point, key = cursor.partition(".")
    if not point or not (pk.isascii() and pk.isdigit()) or len(pk) > 18:
        return None
    try:
        return order.read(key), int(pk)
    except (ValueError, OverflowError):
        return None


def words(text: str) -> str:
    """Read a key that is text."""
    if "\0" in text:
        raise ValueError("no database keeps a NUL")
    return text


def instant(text: str) -> datetime:
    """Read a key that is a moment."""
    read = datetime.fromisoformat(text)
    if read.tzinfo is None:
        raise ValueError("a moment needs a zone")
    return read.astimezone(UTC)
