"""The table at the end, and the one line below it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from .ledger import Count

HEAD = ("fault", "struck", "of", "promised", "lost", "doubled", "allowed", "seconds")

# Name of the fault, what is counted, how often it struck, the count, seconds.
Row = tuple[str, str, int, Count, float]


def table(rows: Iterable[Row]) -> str:
    """Return the table as text, numbers to the right."""
    cells = [HEAD] + [
        (name, str(struck), of, *map(str, (c.promised, c.lost, c.doubled, c.allowed)), f"{s:.0f}")
        for name, of, struck, c, s in rows
    ]
    widths = [max(map(len, column)) for column in zip(*cells, strict=True)]
    return "\n".join(_line(row, widths) for row in cells)


def _line(row: Sequence[str], widths: Sequence[int]) -> str:
    words = {0, 2}
    return "  ".join(
        cell.ljust(width) if n in words else cell.rjust(width)
        for n, (cell, width) in enumerate(zip(row, widths, strict=True))
    )


def closing_line(counts: Sequence[Count]) -> str:
    """Return the sums of all faults."""
    lost, doubled, allowed = (
        sum(getattr(count, name) for count in counts) for name in ("lost", "doubled", "allowed")
    )
    return f"lost {lost}, doubled {doubled}, allowed {allowed}"
