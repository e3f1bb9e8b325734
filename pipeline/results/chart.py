"""Groups side by side, laid out for an SVG: a dot for each conversion, a line for its interval.

The drawing is 360 units wide, so that its words keep their size on a narrow screen.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pipeline.results.figures.conversion import Group

WIDTH = 360
LEFT, RIGHT = 14, 346
TOP, ROW, FOOT = 8, 46, 26


@dataclass(frozen=True)
class Row:
    """One group; places are written out, so that no locale changes their decimal point."""

    group: Group
    text_y: int
    line_y: int
    low: str
    dot: str
    high: str


@dataclass(frozen=True)
class Tick:
    """A place on the scale."""

    label: str
    x: str
    anchor: str


@dataclass(frozen=True)
class Chart:
    """Everything the template draws."""

    height: int
    foot: int
    rows: tuple[Row, ...]
    ticks: tuple[Tick, ...]


def _x(share: float) -> str:
    return f"{LEFT + share * (RIGHT - LEFT):.1f}"


def side_by_side(groups: Iterable[Group]) -> Chart:
    """Lay out the groups from top to bottom, in the order given."""
    rows = tuple(
        Row(
            group,
            text_y=TOP + number * ROW + 14,
            line_y=TOP + number * ROW + 30,
            low=_x(group.conversion.low or 0.0),
            dot=_x(group.conversion.estimate or 0.0),
            high=_x(1.0 if group.conversion.high is None else group.conversion.high),
        )
        for number, group in enumerate(groups)
    )
    foot = TOP + len(rows) * ROW
    anchors = ((0.0, "start"), (0.25, "middle"), (0.5, "middle"), (0.75, "middle"), (1.0, "end"))
    ticks = tuple(Tick(f"{share:.0%}", _x(share), anchor) for share, anchor in anchors)
    return Chart(foot + FOOT, foot, rows, ticks)
