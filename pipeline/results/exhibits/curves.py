"""An incidence as a drawing and as a sheet of its steps."""

from __future__ import annotations

from collections.abc import Iterable
from math import isnan

from pipeline.results.charts.curve import Curve, Reading, step_curve
from pipeline.results.cohort import Cause
from pipeline.results.exhibits.exhibit import Data, Value
from pipeline.stats.incidence import Incidence


def drawing(
    name: str,
    title: str,
    description: str,
    curve: Incidence,
    *,
    own: str,
    other: str,
    effective: bool = False,
) -> Curve | None:
    """Draw how many had left for the first cause, the second beside it; `None` without leads.

    The band is the log-log interval or, where `effective`, Wilson's at the effective size.
    """
    if not curve.days.size:
        return None
    readings = []
    for at, day in enumerate(map(int, curve.days)):
        # Nothing moves on a day on which somebody was only last seen.
        if not curve.events[:, at].any():
            continue
        share = float(curve.incidence[0, at])
        low, high = float(curve.low[0, at]), float(curve.high[0, at])
        if effective and share:
            low, high = curve.effective_interval(day, Cause.ENGAGED)
        readings.append(Reading(day, share, low, high, float(curve.incidence[1, at])))
    return step_curve(
        name,
        title,
        description,
        readings,
        int(curve.days[-1]),
        curve.at_risk_on,
        line_label=own,
        other_label=other,
        band_label=f"95% interval of “{own}”",
    )


def steps(curve: Incidence, horizons: Iterable[int], own: str, other: str) -> Data:
    """The curve on every day on which anything happens, and on the days on which it is read."""
    rows: list[tuple[Value, ...]] = []
    events = {
        int(day): (int(curve.events[0, at]), int(curve.events[1, at]))
        for at, day in enumerate(curve.days)
    }
    for day in sorted({*events, *horizons}):
        estimate, se, low, high = (_told(value) for value in curve.at(day, Cause.ENGAGED))
        wilson = (_told(value) for value in curve.effective_interval(day, Cause.ENGAGED))
        beside = _told(curve.at(day, Cause.CLOSED)[0])
        left = events.get(day, (0, 0))
        rows.append((day, curve.at_risk_on(day), *left, estimate, se, low, high, *wilson, beside))
    head = (
        "day",
        "at_risk",
        f"{own}_on_the_day",
        f"{other}_on_the_day",
        f"{own}_by_then",
        "se",
        "log_log_low",
        "log_log_high",
        "wilson_low",
        "wilson_high",
        f"{other}_by_then",
    )
    return Data(head, tuple(rows))


def _told(value: float) -> float | None:
    return None if isnan(value) else float(value)
