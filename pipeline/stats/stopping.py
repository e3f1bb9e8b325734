"""From which waiting time on a return within a horizon is surely too rare to wait for."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from pipeline.stats.arguments import normal_quantile, whole_number
from pipeline.stats.incidence import Incidence
from pipeline.stats.proportions import score_limits


@dataclass(frozen=True)
class Stop:
    """`day`: the first waiting time at which the chance's upper limit is under the threshold.

    `again`: the first one after it at which it is not any more. `told_until`: the last waiting
    time at which a chance can be told. Each is `None` where there is none.
    """

    day: int | None
    again: int | None
    told_until: int | None


def upper_chance(curve: Incidence, cause: int, age: int, horizon: int) -> float:
    """The upper limit of the chance to leave for a cause within `horizon` days after day `age`.

    That of `Incidence.conditional`, log-log; where nobody left for the cause in that time,
    Wilson's at the effective size, which is the number still at risk at its end divided by the
    share that stayed until then. NaN where the chance can't be told.
    """
    chance, _, _, high = curve.conditional(cause, age, horizon)
    if chance != 0:
        return 1.0 if chance == 1 else high
    ended = curve.days[curve.survival == 0]
    until = min(age + horizon, int(ended[0])) if ended.size else age + horizon
    stayed = _survival(curve, until - 1) / _survival(curve, age)
    size = curve.at_risk_on(until) / stayed
    return score_limits(0.0, size, normal_quantile(curve.level))[1]


def stops(curve: Incidence, cause: int, horizon: int, threshold: float) -> Stop:
    """Find when the chance of leaving for a cause within `horizon` days is surely too small.

    Reads `upper_chance` after each day from 0 on. `threshold` is a share in (0, 1). An upper limit
    at `curve.level`, so the chance is under the threshold with less than half of the doubt that
    the level leaves.

    Raises `ValueError` for a threshold outside (0, 1), a negative or broken horizon, and a cause
    that is none.
    """
    if not 0 < threshold < 1:
        raise ValueError(f"threshold: {threshold} is not between 0 and 1")
    ahead = whole_number("horizon", horizon)
    day = again = told_until = None
    last = int(curve.days[-1]) if len(curve.days) else -1
    # Between two changes at either end of the horizon the answer stays the same.
    changes = curve.changes()
    ages = np.union1d(changes, changes - ahead)
    ages = ages[(ages >= 0) & (ages <= last)].tolist()
    for age, following in pairwise([*ages, last + 1]):
        limit = upper_chance(curve, cause, age, ahead)
        if np.isnan(limit):
            continue
        told_until = following - 1
        if day is None and limit < threshold:
            day = age
        elif day is not None and again is None and limit >= threshold:
            again = age
    return Stop(day, again, told_until)


def _survival(curve: Incidence, day: int) -> float:
    index = int(np.searchsorted(curve.days, day, side="right")) - 1
    return float(curve.survival[index]) if index >= 0 else 1.0
