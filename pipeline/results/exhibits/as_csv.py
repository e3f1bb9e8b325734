"""A figure as a sheet of exact values."""

from __future__ import annotations

from io import StringIO

from pipeline.results.exhibits.exhibit import Data, Value
from pipeline.teams.spreadsheet import Lines


def as_csv(data: Data) -> str:
    """Return the values with a line of heads; what can't be told is an empty cell.

    Days are ISO 8601.
    """
    out = StringIO()
    lines = Lines(out)
    for row in (data.head, *data.rows):
        lines.write(_cell(value) for value in row)
    return out.getvalue()


def _cell(value: Value) -> str:
    if value is None:
        return ""
    return repr(value) if isinstance(value, float) else str(value)
