"""From the bytes of a CSV file to rows that know their line.

The format is that of RFC 4180, section 2 (quoted cells may hold line breaks, delimiters and
doubled quotes; the last line may end without a break), with commas, semicolons or tabs, any kind
of line break, and UTF-8 with or without a byte order mark. The apostrophe by which the export
keeps a text from being taken for a formula is taken off.

What makes the whole file unreadable is refused here; what is wrong with one record spoils only
that record.
"""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from pipeline.teams.spreadsheet import as_meant

from .columns import COLUMNS, IGNORED

DELIMITERS = (",", ";", "\t")
# In the browser, which waits for the answer; the command reads any size.
LARGEST, MOST_ROWS = 10 * 1024 * 1024, 20_000


class Unreadable(Exception):
    """The whole file is refused; says why, and what would be right."""


@dataclass(frozen=True, slots=True)
class Row:
    """One record: the physical line on which it starts, and its trimmed cells."""

    line: int
    cells: tuple[str, ...]
    # Why the record can't be split into cells; empty where it can.
    broken: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """A file's columns, by the names that the import knows or else as written, and its rows."""

    columns: tuple[str, ...]
    delimiter: str
    rows: tuple[Row, ...]

    @property
    def unknown(self) -> tuple[str, ...]:
        """The columns that are kept as notes, in the file's order."""
        return tuple(c for c in self.columns if c not in COLUMNS and c not in IGNORED)


def read(content: bytes) -> Table:
    """Return the columns and rows of a CSV file; ``Unreadable`` where the whole is no such file.

    Lines without any cell filled in are skipped. Trailing empty columns, as spreadsheet programs
    write them, are dropped.
    """
    lines = list(io.StringIO(_decoded(content), newline=""))
    delimiter, header = _header(lines)
    cells = list(header.cells)
    while cells and not cells[-1]:
        cells.pop()
    columns = tuple(_known(name) or f"column {n}" for n, name in enumerate(cells, start=1))
    _check_columns(columns)
    rows = (row for row in _records(lines, delimiter) if row.line > header.line)
    return Table(columns, delimiter, tuple(row for row in rows if row.broken or any(row.cells)))


def _decoded(content: bytes) -> str:
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise Unreadable(
            f"Line {line} is not UTF-8 text. Save the sheet as CSV with the encoding UTF-8."
        ) from None
    if "\0" in text:
        line = text.count("\n", 0, text.index("\0")) + 1
        raise Unreadable(f"Line {line} holds a NUL character. Save the sheet as CSV, as text.")
    if not text.strip():
        raise Unreadable("The file is empty. Its first line must name the columns.")
    return text


def _header(lines: list[str]) -> tuple[str, Row]:
    """Return the delimiter under which the first line names most known columns, and that line."""
    best = None
    for delimiter in DELIMITERS:
        row = next(r for r in _records(lines, delimiter) if r.broken or any(r.cells))
        known = sum(_known(cell) in COLUMNS for cell in row.cells)
        if best is None or known > best[0]:
            best = known, delimiter, row
    assert best is not None
    if best[2].broken:
        raise Unreadable(f"Line {best[2].line} must name the columns. {best[2].broken}")
    return best[1], best[2]


def _known(name: str) -> str:
    """Return the import's own name for a column, whatever its case; else ``name`` itself."""
    plain = re.sub(r"[\s-]+", "_", name.lower())
    return plain if plain in COLUMNS or plain in IGNORED else name


def _check_columns(columns: tuple[str, ...]) -> None:
    if "organisation" not in columns:
        named = ", ".join(columns[:30])
        raise Unreadable(
            "There is no column “organisation”. The first line must name the columns, separated "
            f"by commas, semicolons or tabs; it names: {named}."
        )
    count = Counter(name.casefold() for name in columns)
    twice = sorted({name for name in columns if count[name.casefold()] > 1})
    if twice:
        raise Unreadable(
            f"Two columns have the same name: {', '.join(twice)}. Rename or remove one of them."
        )


def _records(lines: list[str], delimiter: str) -> Iterator[Row]:
    """Split lines into records.

    Where the quotes of a record don't match, only its first line is given up, so that a stray
    quote can't swallow the lines below it.
    """
    at = 0
    while at < len(lines):
        begin = at
        ahead = (lines[n] for n in range(begin, len(lines)))
        reader = csv.reader(ahead, delimiter=delimiter, strict=True)
        try:
            for cells in reader:
                yield Row(at + 1, _trimmed(cells))
                at = begin + reader.line_num
        except csv.Error:
            yield _given_up(at + 1, lines[at], delimiter)
            at += 1


def _given_up(line: int, text: str, delimiter: str) -> Row:
    if len(text) > csv.field_size_limit():
        return Row(line, (), "Shorten the cell: this line is too long to be read.")
    cells = next(csv.reader([text], delimiter=delimiter), [])
    return Row(
        line,
        _trimmed(cells),
        "Close the quotes: a cell in quotes ends with a quote, and a quote within is doubled.",
    )


def _trimmed(cells: list[str]) -> tuple[str, ...]:
    whole = (cell.replace("\r\n", "\n").replace("\r", "\n").strip() for cell in cells)
    return tuple(as_meant(cell).strip() for cell in whole)
