"""A step curve with its band, a competing curve beside it, and how many are at risk below.

An incidence stays where it is until the next day on which something happens, so it is drawn as
steps and never as a slope. It ends on the last day on which anybody is still watched.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import isnan

from pipeline.results.charts.scale import (
    Scale,
    Tick,
    day_values,
    share_label,
    share_values,
)

WIDTH, HEIGHT = 360, 264
LEFT, RIGHT, TOP, BOTTOM = 40, 348, 52, 206


@dataclass(frozen=True)
class Reading:
    """One step: from this day on the curve, its limits and the competing curve stand here."""

    day: int
    share: float
    low: float
    high: float
    other: float


@dataclass(frozen=True)
class AtRisk:
    """How many are watched on a day that is written under the curve."""

    place: str
    number: str


@dataclass(frozen=True)
class Curve:
    """Everything that the template draws."""

    name: str
    title: str
    description: str
    line: str
    other: str
    band: str
    line_label: str
    other_label: str
    band_label: str
    days: tuple[Tick, ...]
    shares: tuple[Tick, ...]
    at_risk: tuple[AtRisk, ...]
    template: str = "results/charts/curve.svg"


def step_curve(
    name: str,
    title: str,
    description: str,
    readings: Sequence[Reading],
    last: int,
    at_risk_on: Callable[[int], int],
    *,
    line_label: str,
    other_label: str,
    band_label: str,
) -> Curve:
    """Lay out the steps from day 0 to day `last`; `readings` in order of days, each day once."""
    seen = [reading for reading in readings if reading.day <= last]
    heights = [
        value
        for reading in seen
        for value in (reading.share, reading.high, reading.other)
        if not isnan(value)
    ]
    across = Scale(0, max(last, 1), LEFT, RIGHT)
    values = share_values(max(heights, default=0.0))
    up = Scale(0, values[-1], BOTTOM, TOP)
    days = [day for day in day_values(last) if day == 0 or far_enough(across, day)]

    def steps(points: list[tuple[int, float]]) -> str:
        return _steps([(day, share) for day, share in points], last, across, up)

    return Curve(
        name=name,
        title=title,
        description=description,
        line=steps([(0, 0.0), *((r.day, r.share) for r in seen)]),
        other=steps([(0, 0.0), *((r.day, r.other) for r in seen)]),
        band=_band(seen, last, across, up),
        line_label=line_label,
        other_label=other_label,
        band_label=band_label,
        days=tuple(Tick(str(day), across.place(day)) for day in days),
        shares=tuple(Tick(share_label(value), up.place(value)) for value in values),
        at_risk=tuple(AtRisk(across.place(day), str(at_risk_on(day))) for day in days),
    )


def far_enough(across: Scale, day: int) -> bool:
    """Whether a label under `day` stays clear of the one before it."""
    before = max(other for other in day_values(day) if other < day)
    return float(across.place(day)) - float(across.place(before)) >= 24


def _steps(points: Sequence[tuple[int, float]], last: int, across: Scale, up: Scale) -> str:
    """A path that stays level up to each day and rises there, and ends level on day `last`."""
    (first, share), *later = points
    parts = [f"M{across.place(first)} {up.place(share)}"]
    drawn = up.place(share)
    for day, share in later:
        height = up.place(share)
        if height != drawn:
            parts.append(f"H{across.place(day)}V{height}")
            drawn = height
    return "".join([*parts, f"H{across.place(last)}"])


def _band(readings: Sequence[Reading], last: int, across: Scale, up: Scale) -> str:
    """The area between the limits, from the first day on which there are any."""
    told = [r for r in readings if not (isnan(r.low) or isnan(r.high))]
    if not told:
        return ""
    ends = [*(r.day for r in told[1:]), last]
    # Where the curve has ended at 1 there are no limits any more: the band stops there.
    closed = next((r.day for r in readings if r.day > told[-1].day and isnan(r.low)), None)
    if closed is not None:
        ends[-1] = closed
    over = [f"{across.place(told[0].day)} {up.place(told[0].high)}"]
    under: list[str] = [f"{across.place(told[0].day)} {up.place(told[0].low)}"]
    for at, (reading, end) in enumerate(zip(told, ends, strict=True)):
        if at:
            over.append(f"{across.place(reading.day)} {up.place(reading.high)}")
            under.append(f"{across.place(reading.day)} {up.place(reading.low)}")
        over.append(f"{across.place(end)} {up.place(reading.high)}")
        under.append(f"{across.place(end)} {up.place(reading.low)}")
    return "M" + "L".join([*over, *reversed(under)]) + "Z"
