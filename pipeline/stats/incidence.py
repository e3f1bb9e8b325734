"""How many have returned, engaged or closed by a day, while others are still open.

Time is whole days since the start. A cause is a number from 1 up; 0 says the lead was still open
when last seen (censored). Day 0 counts. A lead is at risk on a day if it leaves, or is last seen,
on that day or later, and has entered: from the start (`entry` 0, day 0 included) or from the day
after a later entry.
"""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from pipeline.stats.arguments import (
    Decimals,
    Whole,
    cause_codes,
    normal_quantile,
    same_length,
    whole_number,
    whole_numbers,
    whole_table,
)
from pipeline.stats.curve import Steps, aalen_johansen, log_log_limits, weighted_incidence
from pipeline.stats.proportions import score_limits
from pipeline.stats.tally import Tally, tally_counts, tally_leads

NAN = float("nan")


@dataclass(frozen=True, eq=False)
class Incidence:
    """The Aalen-Johansen curve of K causes at the D days on which somebody left or was last seen.

    `days`, `at_risk` and `survival` have shape (D,); `events`, `incidence`, `se`, `low` and `high`
    have shape (K, D), cause 1 in row 0. Days are whole days, `at_risk` and `events` people, the
    rest shares; `low` and `high` are the log-log interval at `level`, NaN where the incidence is
    0 or 1. The sum of all incidences and survival is 1 on every day.

    Every method raises `ValueError` for a day that is negative or not whole, and for a cause
    that is not one of the K.

    What can't be told is NaN, never a number in its place: no method answers for a day on which
    nobody is at risk, unless the curve has ended (survival 0), after which it no longer moves.
    """

    days: Whole
    at_risk: Whole
    events: Whole
    survival: Decimals
    incidence: Decimals
    se: Decimals
    low: Decimals
    high: Decimals
    level: float
    _tally: Tally = field(repr=False)

    def at_risk_on(self, day: int) -> int:
        """How many are at risk on any day, listed in `days` or not."""
        return self._tally.at_risk_on(whole_number("day", day))

    def told_on(self, day: int) -> bool:
        """Whether the curve says anything on a day: somebody is at risk, or it has ended."""
        return self.at_risk_on(day) > 0 or self._survival_after(day) == 0

    def changes(self) -> Whole:
        """The days on which `at`, `at_risk_on` or `told_on` may answer otherwise than the day
        before; 0 is among them."""
        entered = self._tally.entry_days + 1
        return np.unique(np.concatenate(([0], self.days, self.days + 1, entered)))

    def at(self, day: int, cause: int) -> tuple[float, float, float, float]:
        """Incidence of a cause by the end of a day: (estimate, se, low, high).

        At an estimate of 0 or 1 the limits are NaN; `effective_interval` has some there.
        """
        row, day = self._row(cause), whole_number("day", day)
        if not self.told_on(day):
            return NAN, NAN, NAN, NAN
        index = self._index(day)
        if index < 0:
            return 0.0, 0.0, NAN, NAN
        return (
            float(self.incidence[row, index]),
            float(self.se[row, index]),
            float(self.low[row, index]),
            float(self.high[row, index]),
        )

    def effective_interval(self, day: int, cause: int) -> tuple[float, float]:
        """Wilson's interval at the effective size F(1 - F)/se²: (low, high), always within [0, 1].

        At incidence 0 the size is the number at risk on the day divided by the survival just
        before it, at 1 the number of events. Without censoring it is Wilson's own interval; with
        few people it covers better than the log-log interval.

        Source: Wilson as in `proportions`; the effective size after Dorey FJ, Korn EL, Stat Med
        1987;6:679-687 (from memory, not checked).
        """
        row, day = self._row(cause), whole_number("day", day)
        estimate, se, _, _ = self.at(day, cause)
        if np.isnan(estimate):
            return NAN, NAN
        if estimate == 0:
            ended = self.days[self.survival == 0]
            until = min(day, int(ended[0])) if ended.size else day
            size = self.at_risk_on(until) / self._survival_before(until)
        elif estimate == 1:
            size = float(self.events[row, : self._index(day) + 1].sum())
        else:
            size = estimate * (1 - estimate) / se**2
        return score_limits(estimate, size, normal_quantile(self.level))

    def conditional(self, cause: int, age: int, horizon: int) -> tuple[float, float, float, float]:
        """The chance to leave for a cause within the `horizon` days after day `age`, for those
        still waiting at the end of day `age`: (p, se, low, high), with the log-log limits of p.

        p = (F(age + horizon) - F(age)) / S(age), which is the incidence among those who stay
        beyond `age`, and so is its error. NaN where nobody stays beyond `age`, or where the curve
        does not reach age + horizon.

        Source: Zhang M-J, Fine J, Stat Med 2008;27:4376-4387 (from memory): a conditional
        probability of a competing risk, here with the waiting as the condition.
        """
        row = self._row(cause)
        age, horizon = whole_number("age", age), whole_number("horizon", horizon)
        if self._survival_after(age) == 0:
            return NAN, NAN, NAN, NAN
        later = self._steps_between(age, age + horizon)
        ended = later is not None and later.survival[-1] == 0
        if not ended and not self.at_risk_on(age + horizon):
            return NAN, NAN, NAN, NAN
        if later is None:
            return 0.0, 0.0, NAN, NAN
        estimate, se = later.incidence[row, -1:], later.se[row, -1:]
        low, high = log_log_limits(estimate, se, normal_quantile(self.level))
        return float(estimate[0]), float(se[0]), float(low[0]), float(high[0])

    def restricted_mean(self, cause: int, until: int) -> tuple[float, float]:
        """Mean days lost to a cause before day `until`: (estimate, se), both in days.

        The area under the cause's incidence from 0 to `until`. With one cause, `until` less this
        is the mean time spent waiting before `until`.

        Source: Andersen PK, Stat Med 2013;32:5278-5285 (from memory); the standard error is the
        delta method of `curve.weighted_incidence`, without a factor m/(m - 1).
        """
        row, until = self._row(cause), whole_number("until", until)
        if not self.told_on(until):
            return NAN, NAN
        stop = self._index(until) + 1
        weight = (until - self.days[:stop]).astype(np.float64)
        return weighted_incidence(self.at_risk[:stop], self.events[:, :stop], row, weight)

    def median(self, cause: int) -> tuple[int | None, int | None, int | None]:
        """The day by which half have left for a cause, with its limits: (day, low, high).

        Each is the first day on which incidence, its upper limit, its lower limit reach one half,
        or None where that never happens.

        Source: Brookmeyer R, Crowley J, Biometrics 1982;38:29-41 (from memory), the interval read
        off the pointwise limits.
        """
        row = self._row(cause)
        return (
            self._first_day(self.incidence[row] >= 0.5),
            self._first_day(self.high[row] >= 0.5),
            self._first_day(self.low[row] >= 0.5),
        )

    def _row(self, cause: int) -> int:
        number = whole_number("cause", cause)
        if not 1 <= number <= len(self.events):
            raise ValueError(f"cause: {number} is unknown, there are 1 to {len(self.events)}")
        return number - 1

    def _index(self, day: int) -> int:
        """The last of `days` that is not after a day, -1 where none is."""
        return int(np.searchsorted(self.days, day, side="right")) - 1

    def _survival_after(self, day: int) -> float:
        index = self._index(day)
        return float(self.survival[index]) if index >= 0 else 1.0

    def _survival_before(self, day: int) -> float:
        return self._survival_after(day - 1)

    def _steps_between(self, after: int, until: int) -> Steps | None:
        """The curve of those who stay beyond `after`, up to `until`; None if nothing happens."""
        start, stop = self._index(after) + 1, self._index(until) + 1
        if start >= stop:
            return None
        return aalen_johansen(self.at_risk[start:stop], self.events[:, start:stop])

    def _first_day(self, reached: npt.NDArray[np.bool_]) -> int | None:
        return int(self.days[int(np.argmax(reached))]) if reached.any() else None


def cumulative_incidence(
    times: npt.ArrayLike,
    causes: npt.ArrayLike,
    *,
    entry: npt.ArrayLike | None = None,
    level: float = 0.95,
) -> Incidence:
    """The incidence of each cause from one row a lead. Kaplan-Meier is the case of one cause.

    `times` (n,): whole days until the lead left or was last seen. `causes` (n,): 0 for still
    open, 1…K for why it left; K is the largest seen, at least 1. `entry` (n,): the day after
    which the lead is at risk, 0 from the very start. A lead that is last seen on the day of its
    late entry was never at risk and counts nowhere. No leads at all give an empty curve.

    Raises `ValueError` for a value that is negative, not whole or NaN, for unequal lengths, for a
    cause that is none, for an entry after the lead's last day, and for a level outside (0, 1).

    Source: `curve.aalen_johansen`; delayed entry by the number at risk, as in Andersen PK et al.,
    Statistical Models Based on Counting Processes (1993), section III.4 (from memory).
    """
    z = normal_quantile(level)
    days, codes = whole_numbers("times", times), cause_codes("causes", causes)
    same_length(times=days, causes=codes)
    entered = None
    if entry is not None:
        entered = whole_numbers("entry", entry)
        same_length(times=days, entry=entered)
    return _curve(tally_leads(days, codes, entered), level, z)


def from_counts(
    days: npt.ArrayLike,
    exits: npt.ArrayLike,
    events: npt.ArrayLike,
    entries: npt.ArrayLike | None = None,
    level: float = 0.95,
) -> Incidence:
    """The same curve, to the last bit, from counts a day.

    `days` (m,): whole days in any order; a day named twice counts once with the sum. `exits`
    (m,): how many left or were last seen on it, events included. `events` (K, m), or (m,) for one
    cause: how many of them left for each cause. `entries` (m,): how many have that day as their
    entry, 0 for the very start; without it all enter at the start. Leave out a lead that is last
    seen on the day of its late entry: it was never at risk.

    Raises `ValueError` for a count or day that is negative, not whole or NaN, for unequal
    lengths, for more events than exits, for entries that do not add up to the exits, for more
    exits on a day than are at risk, and for a level outside (0, 1).
    """
    z = normal_quantile(level)
    on = whole_numbers("days", days)
    out = whole_numbers("exits", exits)
    same_length(days=on, exits=out)
    by_cause = whole_table("events", events, len(on))
    arrivals = None
    if entries is not None:
        arrivals = whole_numbers("entries", entries)
        same_length(days=on, entries=arrivals)
    return _curve(tally_counts(on, out, by_cause, arrivals), level, z)


def _curve(tally: Tally, level: float, z: float) -> Incidence:
    at_risk = tally.at_risk
    steps = aalen_johansen(at_risk, tally.events)
    low, high = log_log_limits(steps.incidence, steps.se, z)
    return Incidence(
        days=tally.days,
        at_risk=at_risk,
        events=tally.events,
        survival=steps.survival,
        incidence=steps.incidence,
        se=steps.se,
        low=low,
        high=high,
        level=level,
        _tally=tally,
    )
