"""A figure made ready to be shown: on a page, in the review's document, or as a file."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from pipeline.results.charts.draw import Chart

Value = str | int | float | Decimal | date | None


@dataclass(frozen=True)
class Row:
    """One line of a table in words; the first cell names it. `lead` is what it links to."""

    cells: tuple[str, ...]
    lead: int | None = None


@dataclass(frozen=True)
class Table:
    """What stands beside a drawing: the same in words, counts and intervals included."""

    caption: str
    head: tuple[str, ...]
    rows: tuple[Row, ...]
    # Said in place of a table without rows.
    empty: str = "Nothing to show yet."

    @property
    def numbers(self) -> tuple[bool, ...]:
        """Which columns hold nothing but whole numbers, and stand to the right."""
        return tuple(
            column > 0
            and bool(self.rows)
            and all(row.cells[column].replace(",", "").isdecimal() for row in self.rows)
            for column in range(len(self.head))
        )


@dataclass(frozen=True)
class Data:
    """The same as exact values, for a spreadsheet: shares between 0 and 1, nothing rounded."""

    head: tuple[str, ...]
    rows: tuple[tuple[Value, ...], ...]


@dataclass(frozen=True)
class Pages:
    """Where the list before and the list after begin, by a parameter of the address."""

    parameter: str
    before: int | None
    after: int | None


@dataclass(frozen=True)
class Orders:
    """How a list may stand, by a parameter of the address: value, words, and which it is."""

    parameter: str
    choices: tuple[tuple[str, str, bool], ...]


@dataclass(frozen=True)
class Exhibit:
    """One figure: what it asks, what it says, how sure that is, and by which rule."""

    # In addresses and file names.
    name: str
    title: str
    said: tuple[str, ...]
    tables: tuple[Table, ...]
    data: Data
    # Definition, interval, and when it can't be told.
    rules: tuple[str, ...]
    chart: Chart | None = None
    pages: Pages | None = None
    orders: Orders | None = None
