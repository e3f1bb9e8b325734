"""One total for each unit of another, with an interval that makes no guess at their spread."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from pipeline.stats.arguments import Decimals, normal_quantile, same_length, whole_number

CELLS_AT_ONCE = 2_000_000


def ratio_interval(
    above: npt.ArrayLike, below: npt.ArrayLike, *, level: float = 0.95, draws: int, seed: int
) -> tuple[float, float, float]:
    """The sum of `above` divided by the sum of `below`, with its bootstrap interval.

    `above` and `below` (n,): amounts from 0 up of n things that were seen independently of each
    other, such as hours and fees of a day's leads. Each of `draws` rounds draws n of them with
    replacement and divides anew; the interval is the equal-tailed `level` quantiles. The same
    `seed` gives the same interval.

    Where `below` is nothing in all, all three are NaN; a limit is infinite where too many rounds
    draw nothing below.

    Raises `ValueError` for an amount that is negative or not finite, for unequal lengths, for a
    level outside (0, 1), and for fewer draws than 1.

    Source: Efron B, Tibshirani RJ, An Introduction to the Bootstrap (1993), section 13.3, the
    percentile interval (number from memory).
    """
    normal_quantile(level)
    tops, bottoms = _amounts("above", above), _amounts("below", below)
    same_length(above=tops, below=bottoms)
    rounds = whole_number("draws", draws, least=1)
    rng = np.random.default_rng(whole_number("seed", seed))
    if not bottoms.sum():
        return float("nan"), float("nan"), float("nan")

    size = len(tops)
    share, both = np.full(size, 1 / size), np.vstack((tops, bottoms)).T
    at_once = max(1, CELLS_AT_ONCE // size)
    sums = np.concatenate(
        [
            rng.multinomial(size, share, min(at_once, rounds - start)) @ both
            for start in range(0, rounds, at_once)
        ]
    )
    # Nothing above nothing says nothing: such a round is left out.
    sums = sums[sums.any(axis=1)]
    endless = np.full(len(sums), np.inf)
    ratios = np.divide(sums[:, 0], sums[:, 1], out=endless, where=sums[:, 1] > 0)
    tails = [(1 - level) / 2, (1 + level) / 2]
    low, high = np.quantile(ratios, tails, method="inverted_cdf")
    return float(tops.sum() / bottoms.sum()), float(low), float(high)


def _amounts(name: str, values: npt.ArrayLike) -> Decimals:
    given = np.asarray(values, dtype=np.float64)
    if given.ndim != 1 or not np.isfinite(given).all() or (given < 0).any():
        raise ValueError(f"{name}: one row of finite amounts from 0 up is needed")
    return given
