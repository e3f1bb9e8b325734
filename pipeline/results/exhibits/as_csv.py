"""A figure as a sheet of exact values."""

from __future__ import annotations

import csv
from io import StringIO

from pipeline.results.exhibits.exhibit import Data, Value

# A spreadsheet takes a text that begins so for a formula, and would run it.
RUNS = ("=", "+", "-", "@", "\t", "\r")


def as_csv(data: Data) -> str:
    """Return the values with a line of heads; what can't be told is an empty cell.

    Commas, quotes where needed, CRLF: RFC 4180, section 2. Days are ISO 8601.
    """
    out = StringIO()
    writer = csv.writer(out)
    writer.writerow(data.head)
    writer.writerows([_cell(value) for value in row] for row in data.rows)
    return out.getvalue()


def _cell(value: Value) -> str:
    if value is None:
        return ""
    if isinstance(value, str):
        return f"'{value}" if value.startswith(RUNS) else value
    return repr(value) if isinstance(value, float) else str(value)
