"""How many of those now waiting will return within a horizon."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.stats.arguments import (
    Decimals,
    cause_codes,
    normal_quantile,
    probabilities,
    same_length,
    whole_number,
    whole_numbers,
)
from pipeline.stats.resample import record

# Resampled counts are held for this many cells at a time, to keep memory flat.
CELLS_AT_ONCE = 2_000_000


@dataclass(frozen=True)
class Forecast:
    """Returns to come: `expected` with its own error `se`, and a predictive interval in people.

    `beyond` is how many of the waiting reach past the last day that anybody was followed. What
    happens there is not known; they count up to that day, so `expected` is at least, a floor.
    """

    expected: float
    se: float
    low: int
    high: int
    beyond: int


def poisson_binomial(p: npt.ArrayLike) -> Decimals:
    """The chance of 0, 1, …, n successes in n independent trials with chances `p` (n,): (n + 1,).

    Raises `ValueError` for a chance that is NaN or outside [0, 1].

    Source: Hong Y, Comput Stat Data Anal 2013;59:41-51, the exact recursion (from memory): each
    trial spreads what is known so far over one more success.
    """
    chances = probabilities("p", p)
    mass = np.zeros(len(chances) + 1)
    mass[0] = 1.0
    for done, chance in enumerate(chances, start=1):
        mass[1 : done + 1] = mass[1 : done + 1] * (1 - chance) + mass[:done] * chance
        mass[0] *= 1 - chance
    return mass


def expected_returns(
    times: npt.ArrayLike,
    causes: npt.ArrayLike,
    ages: npt.ArrayLike,
    horizon: int,
    *,
    cause: int = 1,
    entry: npt.ArrayLike | None = None,
    level: float = 0.95,
    draws: int,
    seed: int,
) -> Forecast:
    """How many of the leads that have waited `ages` days leave for `cause` within `horizon` days.

    `times`, `causes` and `entry` (n,) are the record, as for `cumulative_incidence`; `ages` (w,)
    are whole days waited so far by each lead that still waits. Each has the chance
    (F(age + horizon) - F(age)) / S(age); F stays level after the last day of the record.

    The interval is the equal-tailed `level` quantiles of `draws` rounds. Each round draws n leads
    from the record with replacement, makes the curve anew, and then lets every waiting lead
    return or not by its new chance; so it carries both the curve's uncertainty and the luck of
    the waiting leads. The same `seed` gives the same interval.

    Raises `ValueError` for a value that is negative, not whole or NaN, for unequal lengths, for a
    cause that is none, for an entry after the lead's last day, for a level outside (0, 1), and
    for fewer draws than 1.

    Source: Efron B, J Am Stat Assoc 1981;76:312-319 (from memory): the bootstrap of censored data
    by person; the number given the chances is Poisson-binomial.
    """
    normal_quantile(level)
    days, codes = whole_numbers("times", times), cause_codes("causes", causes)
    entered = np.zeros_like(days) if entry is None else whole_numbers("entry", entry)
    same_length(times=days, causes=codes, entry=entered)
    waited, ahead = whole_numbers("ages", ages), whole_number("horizon", horizon)
    wanted = whole_number("cause", cause, least=1)
    rounds = whole_number("draws", draws, least=1)
    rng = np.random.default_rng(whole_number("seed", seed))

    known = record(days, codes, entered, wanted)
    age, leads = np.unique(waited, return_counts=True)
    beyond = int(leads[age + ahead > known.last_day].sum())
    if not known.size or not len(age):
        return Forecast(0.0, 0.0, 0, 0, beyond)

    expected = float((known.chances(known.count[np.newaxis], age, ahead) @ leads)[0])
    means, returns = np.empty(rounds), np.empty(rounds, dtype=np.int64)
    at_once = max(1, CELLS_AT_ONCE // len(known.count))
    for start in range(0, rounds, at_once):
        part = slice(start, min(start + at_once, rounds))
        drawn = rng.multinomial(known.size, known.count / known.size, part.stop - start)
        chances = np.clip(known.chances(drawn, age, ahead), 0.0, 1.0)
        means[part] = chances @ leads
        returns[part] = rng.binomial(leads, chances).sum(axis=1)
    tails = [(1 - level) / 2, (1 + level) / 2]
    low, high = np.quantile(returns, tails, method="inverted_cdf")
    return Forecast(expected, float(means.std()), int(low), int(high), beyond)
