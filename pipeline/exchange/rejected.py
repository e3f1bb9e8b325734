"""The rejected rows as a sheet: its own columns, then what is wrong; mend it and import it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TextIO

from pipeline.teams.spreadsheet import Lines

from .checking import Reject
from .columns import IGNORED
from .reading import Table


def write_rejects(out: TextIO, table: Table, rejects: Iterable[Reject]) -> None:
    """Write the rejected rows with line, columns, values and what would be right.

    The faults of one row stand in its cells one after the other, separated by semicolons.
    """
    kept = [n for n, name in enumerate(table.columns) if name not in IGNORED]
    lines = Lines(out, table.delimiter)
    lines.write([*(table.columns[n] for n in kept), *IGNORED])
    for reject in rejects:
        cells = reject.row.cells
        faults = [(f.column or "row", f.value, f.mend) for f in reject.faults]
        lines.write(
            [
                *(cells[n] if n < len(cells) else "" for n in kept),
                reject.row.line,
                *("; ".join(parts) for parts in zip(*faults, strict=True)),
            ]
        )
