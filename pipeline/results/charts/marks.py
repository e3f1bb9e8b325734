"""Things side by side: a dot for each value, a line for its interval, a ring for a second value.

The drawing is 360 units wide, so that its words keep their size on a narrow screen.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from pipeline.results.charts.scale import Scale, Tick

WIDTH = 360
LEFT, RIGHT = 12, 348
KEY, ROW, FOOT = 20, 44, 24
# As many letters as fit beside a note of some ten.
NAME_LETTERS = 36
# Where names stand beside the scale and not above it: rows are lower, names short.
BESIDE, LOW_ROW, SHORT = 118, 24, 15


@dataclass(frozen=True)
class Mark:
    """One thing: its name, a note such as ``11 of 40``, and its values, `None` where not told."""

    name: str
    note: str
    value: float | None
    low: float | None = None
    high: float | None = None
    ring: float | None = None


@dataclass(frozen=True)
class Row:
    """One thing laid out; a place is `None` where there is nothing to draw."""

    name: str
    note: str
    text_y: int
    line_y: int
    dot: str | None
    low: str | None
    high: str | None
    ring: str | None


@dataclass(frozen=True)
class Key:
    """What a sign in the drawing means."""

    sign: str
    label: str
    y: int


@dataclass(frozen=True)
class Marks:
    """Everything that the template draws."""

    name: str
    title: str
    description: str
    height: int
    top: int
    foot: int
    keys: tuple[Key, ...]
    rows: tuple[Row, ...]
    ticks: tuple[Tick, ...]
    # The place of "no difference", or of a limit, where the scale has such a one.
    zero: str | None = None
    template: str = "results/charts/marks.svg"


def side_by_side(
    name: str,
    title: str,
    description: str,
    marks: Sequence[Mark],
    values: Sequence[float],
    label: Callable[[float], str],
    *,
    dot: str,
    line: str,
    ring: str = "",
    zero: float | None = None,
    zero_means: str = "",
    beside: bool = False,
) -> Marks:
    """Lay out `marks` from top to bottom, in the order given, over the scale of `values`.

    `name` is unlike that of any other drawing on the page. `dot`, `line`, `ring` and `zero_means`
    say what the signs mean. With `beside` the names, short ones, stand left of the scale, and
    notes are left out.
    """
    row_height, left = (LOW_ROW, BESIDE) if beside else (ROW, LEFT)
    scale = Scale(values[0], values[-1], left, RIGHT)

    def place(value: float | None) -> str | None:
        return None if value is None else scale.place(value)

    signs = [("dot", dot), ("line", line), ("ring", ring), ("zero", zero_means)]
    keys = tuple(
        Key(sign, words, 14 + number * KEY)
        for number, (sign, words) in enumerate((s, w) for s, w in signs if w)
    )
    top = len(keys) * KEY + 10
    rows = tuple(
        Row(
            name=shortened(
                mark.name, SHORT if beside else NAME_LETTERS - max(0, len(mark.note) - 10)
            ),
            note="" if beside else mark.note,
            text_y=top + number * row_height + 15,
            line_y=top + number * row_height + (11 if beside else 30),
            dot=place(mark.value),
            low=place(mark.low),
            high=place(mark.high),
            ring=place(mark.ring),
        )
        for number, mark in enumerate(marks)
    )
    foot = top + len(rows) * row_height
    ends = {0: "start", len(values) - 1: "end"}
    ticks = tuple(
        Tick(label(value), scale.place(value), ends.get(number, "middle"))
        for number, value in enumerate(values)
    )
    return Marks(name, title, description, foot + FOOT, top, foot, keys, rows, ticks, place(zero))


def shortened(text: str, letters: int) -> str:
    """Return the text, cut with an ellipsis where it has more letters than fit."""
    letters = max(letters, 8)
    return text if len(text) <= letters else text[: letters - 1].rstrip() + "…"
