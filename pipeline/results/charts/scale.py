"""From values to places on a drawing, and which values are written beside it."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor, log10

# The days at which delayed return is read; then year by year.
READ_AT = (0, 90, 180, 365, 730)
YEAR = 365


@dataclass(frozen=True)
class Tick:
    """A value on the scale, its place, and how its label stands to it."""

    label: str
    place: str
    anchor: str = "middle"


@dataclass(frozen=True)
class Scale:
    """A line from `least` at the place `start` to `most` at the place `end`."""

    least: float
    most: float
    start: float
    end: float

    def place(self, value: float) -> str:
        """Return the place of a value, one beyond the ends at the end.

        Written out, so that no locale changes its decimal point.
        """
        kept = min(max(value, self.least), self.most)
        share = (kept - self.least) / (self.most - self.least)
        return f"{self.start + share * (self.end - self.start):.1f}"


def share_label(value: float) -> str:
    """Return ``25%``."""
    return f"{value * 100:.0f}%"


def points_label(value: float) -> str:
    """Return ``+25``, in percentage points."""
    return f"{round(value * 100):+d}" if round(value * 100) else "0"


def share_values(highest: float) -> list[float]:
    """Return the ticks of a scale of shares that begins at 0 and holds `highest`."""
    top = next((top for top in (0.1, 0.2, 0.4, 0.6) if highest <= top), 1.0)
    return [top * part / 4 for part in range(5)]


def day_values(last: int) -> list[int]:
    """Return the days written under a curve that ends on day `last`."""
    years = range(3 * YEAR, last + 1, YEAR * max(1, ceil(last / YEAR / 6)))
    return [day for day in (*READ_AT, *years) if day <= last]


def whole_values(lowest: float, highest: float) -> list[float]:
    """Return about five round values, whole numbers, whose ends hold `lowest` and `highest`."""
    span = max(highest - lowest, 1.0)
    size = 10 ** floor(log10(span / 4)) if span >= 4 else 1
    step = next((size * by for by in (1, 2, 5, 10) if size * by * 5 >= span), size * 10)
    first, last = floor(lowest / step), max(ceil(highest / step), floor(lowest / step) + 1)
    return [float(step * number) for number in range(first, last + 1)]
