"""Cells that no spreadsheet takes for a formula. Every CSV file of the program is written here.

OWASP ASVS 5.0, 1.2.10: a cell that begins with ``=``, ``+``, ``-``, ``@`` or a tab gets an
apostrophe in front. Ours are read back, too, so an apostrophe that was typed there gets a second
one: what is taken off is always exactly what was put on.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable
from typing import Any, Protocol

# Blanks in front, and the wide forms of the signs, don't keep every program from calculating.
RUNS = re.compile(r"'*(?:[\t\r]|\s*[=+\-@＝＋－＠])")
# A number is one already, and a lone dash says "nothing".
PLAIN = re.compile(r"'*\s*-(?:[0-9]+(?:\.[0-9]+)?(?:e[+-]?[0-9]+)?)?\s*")


class Writable(Protocol):
    """What a file is written to."""

    def write(self, text: str, /) -> object:
        """Take a line."""


def guarded(cell: str) -> str:
    """Return a text as a cell that is a text in every spreadsheet."""
    return f"'{cell}" if _would_run(cell) else cell


def as_meant(cell: str) -> str:
    """Return the text that ``guarded`` made a cell of."""
    return cell[1:] if cell.startswith("'") and _would_run(cell) else cell


def _would_run(cell: str) -> bool:
    return bool(RUNS.match(cell)) and not PLAIN.fullmatch(cell)


class Lines:
    """Writes rows to ``out``: quotes where needed, CRLF (RFC 4180, section 2), texts guarded."""

    def __init__(self, out: Writable, delimiter: str = ",") -> None:
        self._writer: Any = csv.writer(out, delimiter=delimiter)

    def write(self, row: Iterable[object]) -> Any:
        """Write one row; return what ``out`` says to its line."""
        cells = (guarded(cell) if isinstance(cell, str) else cell for cell in row)
        return self._writer.writerow(list(cells))
