"""Do groups differ, and how many such questions were asked."""

from dataclasses import dataclass
from math import erfc, exp, lgamma, log, nan, sqrt

import numpy as np
import numpy.typing as npt

from pipeline.stats.arguments import (
    Decimals,
    Whole,
    cause_among,
    cause_codes,
    group_numbers,
    probabilities,
    same_length,
    whole_numbers,
)
from pipeline.stats.tally import count_by_day


@dataclass(frozen=True)
class Comparison:
    """A chi-square `statistic`, its degrees of freedom, and the chance of one as large.

    Where the groups cannot be told apart at all, because nothing happened while two of them were
    watched, `df` is 0 and `statistic` and `p_value` are NaN.
    """

    statistic: float
    df: int
    p_value: float


def gray_test(
    times: npt.ArrayLike, causes: npt.ArrayLike, groups: npt.ArrayLike, cause: int = 1
) -> Comparison:
    """Gray's test that the incidence of `cause` is the same in all groups.

    `times` (n,): whole days until each left or was last seen. `causes` (n,): 0 for still open,
    1 and up for why it left. `groups` (n,): any labels, at least two different ones.

    Raises `ValueError` for a value that is negative, not whole or NaN, for a cause that is none
    or above all that are in `causes`, for unequal lengths, and for fewer than two groups.

    Source: Gray RJ, Ann Stat 1988;16:1141-1154: the score of section 2 with ρ = 0, the variance
    of section 3 with its correction for ties (sections from memory; held by the published values).
    """
    days, codes = whole_numbers("times", times), cause_codes("causes", causes)
    members, count = group_numbers("groups", groups)
    same_length(times=days, causes=codes, groups=members)
    wanted = cause_among("cause", cause, codes)
    kinds = np.where(codes == 0, 0, np.where(codes == wanted, 1, 2))
    at_risk, (own, other) = _by_group(days, kinds, members, count, 3)

    watched = at_risk > 0
    size = np.where(watched, at_risk, 1)
    kept: Decimals = np.where(watched, 1 - (own + other) / size, 1.0)
    survival: Decimals = np.multiply.accumulate(kept, axis=1)
    before = _just_before(survival, 1.0)
    free_before = 1 - _just_before(np.cumsum(before * own / size, axis=1), 0.0)

    # How many would be at risk had nobody left for another cause or been lost.
    as_if = np.where(watched, at_risk / np.where(watched, before, 1.0), 0.0)
    all_as_if, all_own = as_if.sum(axis=0), own.sum(axis=0)
    due = as_if * free_before
    score = (own - all_own * due / _or_one(due.sum(axis=0))).sum(axis=1)

    step = all_own / _or_one(all_as_if)
    common = np.cumsum(step)
    left_before = 1 - _just_before(common, 0.0)
    weight = _covariance(as_if, all_as_if)  # (G, G, D)
    path = np.cumsum(weight * step / _or_one(np.maximum(left_before, 0.0)), axis=2)
    ahead = path[:, :, -1:] - path

    alive = survival > 0
    ratio = np.where(alive, (1 - common) / np.where(alive, survival, 1.0), 0.0)
    noise_own = before * step / size * _ties(all_own, all_as_if * before)
    noise_own = np.where(watched & (all_own > 0), noise_own, 0.0)
    noise_other = np.where(watched & alive, other * (before / size) ** 2, 0.0)
    noise_other = noise_other * _ties(other, size)
    slope_own, slope_other = weight + (1 - ratio) * ahead, ratio * ahead
    variance = np.einsum("ikd,jkd,kd->ij", slope_own, slope_own, noise_own)
    variance += np.einsum("ikd,jkd,kd->ij", slope_other, slope_other, noise_other)
    return _chi_square(score, variance, float(all_own.sum()))


def logrank_test(times: npt.ArrayLike, events: npt.ArrayLike, groups: npt.ArrayLike) -> Comparison:
    """The log-rank test that the hazard of an event is the same in all groups.

    `times` (n,): whole days. `events` (n,): 1 where the event happened, 0 where it was not seen.
    `groups` (n,): any labels, at least two different ones. With competing causes it compares the
    hazard of one of them, which is another question than Gray's.

    Raises `ValueError` for a value that is negative, not whole or NaN, for an event that is
    neither 0 nor 1, for unequal lengths, and for fewer than two groups.

    Source: Mantel N, Cancer Chemother Rep 1966;50:163-170, with the hypergeometric variance;
    Kalbfleisch JD, Prentice RL, The Statistical Analysis of Failure Time Data (2002), section 1.4.
    """
    days, happened = whole_numbers("times", times), whole_numbers("events", events)
    if happened.size and happened.max() > 1:
        first = int(np.argmax(happened > 1))
        raise ValueError(f"events: {happened[first]} at position {first} is neither 0 nor 1")
    members, count = group_numbers("groups", groups)
    same_length(times=days, events=happened, groups=members)
    at_risk, (own,) = _by_group(days, happened, members, count, 2)

    all_at_risk, all_own = at_risk.sum(axis=0), own.sum(axis=0)
    score = (own - all_own * at_risk / all_at_risk).sum(axis=1)
    spread = _covariance(at_risk, all_at_risk) / all_at_risk
    variance = (spread * all_own * _ties(all_own, all_at_risk)).sum(axis=2)
    return _chi_square(score, variance, float(all_own.sum()))


def holm(p_values: npt.ArrayLike) -> Decimals:
    """Adjusted p-values, in the order given: refusing those below α keeps all errors below α.

    Raises `ValueError` for a value that is NaN or outside [0, 1].

    Source: Holm S, Scand J Stat 1979;6:65-70, as adjusted p-values (Wright SP, Biometrics
    1992;48:1005-1013, from memory): the i-th smallest of m times m - i + 1, never falling, at
    most 1.
    """
    given = probabilities("p_values", p_values)
    order = np.argsort(given, kind="stable")
    factors = np.arange(len(given), 0, -1)
    adjusted = np.empty_like(given)
    adjusted[order] = np.minimum(np.maximum.accumulate(given[order] * factors), 1.0)
    return adjusted


def chi_square_tail(value: float, df: int) -> float:
    """The chance that a chi-square with `df` degrees of freedom is at least `value`.

    Source: Abramowitz M, Stegun IA, Handbook of Mathematical Functions (1964), eq. 26.4.4 and
    26.4.5 (numbers from memory): closed sums for odd and even degrees of freedom.
    """
    if value <= 0:
        return 1.0
    half = value / 2
    first, tail = (0.5, erfc(sqrt(half))) if df % 2 else (0.0, 0.0)
    powers = (first + step for step in range(df // 2))
    return tail + sum(exp(power * log(half) - half - lgamma(power + 1)) for power in powers)


def _by_group(
    days: Whole, kinds: Whole, members: Whole, count: int, width: int
) -> tuple[Decimals, Decimals]:
    """On the days on which any event falls: at risk (G, D), and events by kind (width - 1, G, D).

    Kind 0 is censored.
    """
    _, table = count_by_day(days, members * width + kinds, count * width)
    by_kind = table.reshape(count, width, -1)
    exits = by_kind.sum(axis=1)
    at_risk = exits.sum(axis=1, keepdims=True) - np.cumsum(exits, axis=1) + exits
    eventful = by_kind[:, 1:].any(axis=(0, 1))
    events = by_kind[:, 1:, eventful].transpose(1, 0, 2)
    return at_risk[:, eventful].astype(np.float64), events.astype(np.float64)


def _just_before(after: Decimals, start: float) -> Decimals:
    """The left limit of a step function along the last axis."""
    return np.concatenate((np.full_like(after[..., :1], start), after[..., :-1]), axis=-1)


def _or_one(divisor: Decimals) -> Decimals:
    """A divisor that is 0 only where the dividend is."""
    return np.where(divisor > 0, divisor, 1.0)


def _covariance(sizes: Decimals, total: Decimals) -> Decimals:
    """diag(y) - y·y'/sum(y) on each day: (G, G, D)."""
    across = -sizes[:, np.newaxis] * sizes[np.newaxis] / _or_one(total)
    own = np.arange(len(sizes))
    across[own, own] += sizes
    return across


def _ties(events: Decimals, people: Decimals) -> Decimals:
    """How much several events on one day, drawn without replacement, lower the variance."""
    several = (events > 1) & (people > 1)
    return np.where(several, 1 - (events - 1) / np.where(several, people - 1, 1.0), 1.0)


def _chi_square(score: Decimals, variance: Decimals, events: float) -> Comparison:
    """The quadratic form of all scores but one: they add up to a constant.

    A direction in which the variance is nothing beside the number of events is rounding, not
    information; one in which it is negative means that the correction for ties has failed.
    """
    spread, directions = np.linalg.eigh(variance[:-1, :-1])
    told = spread > 1e-10 * events
    df = int(told.sum())
    if df == 0 or spread[0] < -1e-10 * events:
        return Comparison(nan, 0, nan)
    statistic = float(((score[:-1] @ directions)[told] ** 2 / spread[told]).sum())
    return Comparison(statistic, df, chi_square_tail(statistic, df))
