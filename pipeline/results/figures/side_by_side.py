"""Do formats, sources or numbers of attendees differ: side by side, and never as a rank.

Groups are compared at the largest of 365, 180, 90 and 30 days on which each has at least ten at
risk; without one it can't be told. Leads whose group is not known are not compared. Which group
converts more is said only where each has at least ten engagements within those days, where the
interval of the difference leaves 0 out, and where Gray's test, adjusted by Holm for the number of
pairs, stays below 5%. The groups were not given to leads by lot, so a difference is no cause.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from math import isnan

import numpy as np

from pipeline.results.cohort import Cause, Grouping
from pipeline.results.figures.conversion import Conversion, Group
from pipeline.results.figures.readings import LEVEL, IncidenceAt
from pipeline.results.questions.conversion import HORIZONS, Day
from pipeline.stats.arguments import Whole
from pipeline.stats.comparison import gray_test, holm
from pipeline.stats.proportions import square_and_add
from pipeline.stats.shrinkage import hierarchical_rates

# Below so many at risk in a group a horizon is not used to compare.
LEAST_AT_RISK = 10
# Below so many engagements in any group nothing is said about which converts more.
LEAST_EVENTS = 10
ALPHA = 1 - LEVEL


@dataclass(frozen=True)
class Side:
    """One group as it is compared."""

    name: str
    # Within the common horizon, by Aalen-Johansen, with Wilson's interval at the effective size.
    raw: IncidenceAt
    # Seen to engage within it.
    engaged: int
    # Held at least so many days ago, and engaged within them: what is drawn together below.
    followed: int
    followed_engaged: int
    # Drawn towards what the groups have in common, more so where a group is small.
    shrunken: float
    shrunken_low: float
    shrunken_high: float


@dataclass(frozen=True)
class Pair:
    """Two groups: the first's conversion less the second's, and whether that is luck."""

    first: str
    second: str
    difference: float
    low: float
    high: float
    # None: nothing happened by which the two could be told apart.
    p_value: float | None
    # By Holm, for all pairs.
    adjusted: float | None
    # Whether it is said which of the two converts more.
    told: bool


@dataclass(frozen=True)
class SideBySide:
    """The comparison; `days` is None where there is no horizon to compare at."""

    grouping: Grouping
    # Compared, in order of name; those not known are not among them.
    names: tuple[str, ...]
    days: int | None
    sides: tuple[Side, ...]
    pairs: tuple[Pair, ...]
    # Groups that keep the comparison from being made, or from being put in order.
    too_few_at_risk: tuple[str, ...]
    too_few_events: tuple[str, ...]

    @property
    def can_order(self) -> bool:
        """Whether anything may be said about which converts more."""
        return len(self.sides) > 1 and not self.too_few_events


def side_by_side(found: Conversion) -> SideBySide:
    """Compare the groups whose name is known."""
    groups = [one for one in found.groups if one.name is not None]
    days = next((at for at in reversed(HORIZONS) if not _too_few_at_risk(groups, at)), None)
    comparable = days is not None and len(groups) > 1
    sides = _sides(groups, days) if comparable and days is not None else ()
    few = tuple(side.name for side in sides if side.engaged < LEAST_EVENTS)
    return SideBySide(
        grouping=found.grouping,
        names=tuple(one.name or "" for one in groups),
        days=days if comparable else None,
        sides=sides,
        pairs=_pairs(groups, sides, can_order=not few) if sides else (),
        too_few_at_risk=() if comparable else _too_few_at_risk(groups, HORIZONS[0]),
        too_few_events=few,
    )


def _too_few_at_risk(groups: Sequence[Group], days: int) -> tuple[str, ...]:
    return tuple(one.name or "" for one in groups if one.at(days).at_risk < LEAST_AT_RISK)


def _sides(groups: Sequence[Group], days: int) -> tuple[Side, ...]:
    followed = [next(at for at in one.followed if at.days == days) for one in groups]
    drawn = hierarchical_rates(
        [at.engaged for at in followed], [at.leads for at in followed], LEVEL
    )
    return tuple(
        Side(
            name=one.name or "",
            raw=one.at(days),
            engaged=one.engaged_within(days),
            followed=at.leads,
            followed_engaged=at.engaged,
            shrunken=float(drawn.mean[place]),
            shrunken_low=float(drawn.low[place]),
            shrunken_high=float(drawn.high[place]),
        )
        for place, (one, at) in enumerate(zip(groups, followed, strict=True))
    )


def _pairs(groups: Sequence[Group], sides: Sequence[Side], *, can_order: bool) -> tuple[Pair, ...]:
    couples = list(combinations(range(len(groups)), 2))
    p_values = [_gray(groups[first].days, groups[second].days) for first, second in couples]
    known = [value for value in p_values if value is not None]
    adjusted = iter(holm(known).tolist())
    pairs = []
    for (first, second), p_value in zip(couples, p_values, strict=True):
        one, other = sides[first].raw, sides[second].raw
        # At a horizon with ten at risk both are told.
        assert one.estimate is not None
        assert other.estimate is not None
        assert one.effective
        assert other.effective
        difference, low, high = square_and_add(
            one.estimate, one.effective, other.estimate, other.effective
        )
        by_holm = None if p_value is None else next(adjusted)
        apart = by_holm is not None and by_holm < ALPHA and (low > 0 or high < 0)
        pairs.append(
            Pair(
                sides[first].name,
                sides[second].name,
                difference,
                low,
                high,
                p_value,
                by_holm,
                told=can_order and apart,
            )
        )
    return tuple(pairs)


def _gray(one: Sequence[Day], other: Sequence[Day]) -> float | None:
    """The chance of a difference as large between the whole curves, were they the same."""
    times, causes = zip(_leads(one), _leads(other), strict=True)
    groups = np.repeat([0, 1], [len(part) for part in times])
    if not len(times[0]) or not len(times[1]):
        return None
    found = gray_test(np.concatenate(times), np.concatenate(causes), groups, Cause.ENGAGED)
    return None if isnan(found.p_value) else found.p_value


def _leads(days: Sequence[Day]) -> tuple[Whole, Whole]:
    """Each lead's time and cause, from the counts."""
    by_cause = {
        Cause.OPEN: [row.exits - row.engaged - row.closed for row in days],
        Cause.ENGAGED: [row.engaged for row in days],
        Cause.CLOSED: [row.closed for row in days],
    }
    on = np.array([row.day for row in days], dtype=np.int64)
    times = [np.repeat(on, counts) for counts in by_cause.values()]
    causes = [
        np.repeat(np.int64(cause), len(part)) for cause, part in zip(by_cause, times, strict=True)
    ]
    return np.concatenate(times), np.concatenate(causes)
