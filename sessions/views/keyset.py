"""Pages of a list in order of day, newest first: each goes on where the last one ended."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Q, QuerySet

SIZE = 25


@dataclass(frozen=True)
class Page:
    """Some rows, and where older ones go on; empty where there are none."""

    rows: list[Any]
    older: str


def page_before(rows: QuerySet[Any], column: str, before: str) -> Page:
    """Return the newest rows before the mark ``before``; what is no mark is the beginning.

    ``column`` holds the day of a row.
    """
    rows = rows.order_by(f"-{column}", "-pk")
    if mark := _mark(before):
        day, pk = mark
        rows = rows.filter(Q(**{f"{column}__lt": day}) | Q(**{column: day, "pk__lt": pk}))
    found = list(rows[: SIZE + 1])
    shown = found[:SIZE]
    older = f"{getattr(shown[-1], column)}.{shown[-1].pk}" if len(found) > SIZE else ""
    return Page(shown, older)


def _mark(text: str) -> tuple[date, int] | None:
    day, _, pk = text.partition(".")
    if not (pk.isascii() and pk.isdecimal() and len(pk) < 19):
        return None
    try:
        return date.fromisoformat(day), int(pk)
    except ValueError:
        return None
