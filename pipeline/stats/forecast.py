"""How many of those now waiting will return within a horizon."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.stats.arguments import (
    Decimals,
    Whole,
    cause_among,
    cause_codes,
    normal_quantile,
    probabilities,
    same_length,
    whole_number,
    whole_numbers,
)
from pipeline.stats.resample import Record, record, record_of_counts


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


@dataclass(frozen=True)
class Outlook:
    """The returns to come, and the amount they bring: `expected` with a predictive interval."""

    returns: Forecast
    expected: float
    low: float
    high: float


@dataclass(frozen=True, eq=False)
class Waiting:
    """Who waits, counted by age: for each of `ages` (w,) how many `leads`, the `total` of their
    amounts and the `squares`, the total of the squares. Without amounts both are zeros."""

    ages: npt.ArrayLike
    leads: npt.ArrayLike
    total: npt.ArrayLike
    squares: npt.ArrayLike

    def by_age(self) -> tuple[Whole, Whole, Decimals, Decimals]:
        """Each age once, in order, with what belongs to it; `ValueError` for what is none."""
        ages, leads = whole_numbers("ages", self.ages), whole_numbers("leads", self.leads)
        total, squares = _amounts("total", self.total), _amounts("squares", self.squares)
        same_length(ages=ages, leads=leads, total=total, squares=squares)
        age, place = np.unique(ages, return_inverse=True)
        counted = np.zeros(len(age), dtype=np.int64)
        np.add.at(counted, place, leads)
        summed = np.zeros((2, len(age)))
        np.add.at(summed[0], place, total)
        np.add.at(summed[1], place, squares)
        return age, counted, summed[0], summed[1]


def _amounts(name: str, values: npt.ArrayLike) -> Decimals:
    given = np.asarray(values, dtype=np.float64)
    if given.ndim != 1 or not np.isfinite(given).all() or (given < 0).any():
        raise ValueError(f"{name}: one row of finite amounts from 0 up is needed")
    return given


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
    cause that is none or above all that are in `causes`, for an entry after the lead's last day,
    for a level outside (0, 1), and for fewer draws than 1.

    Source: Efron B, J Am Stat Assoc 1981;76:312-319 (from memory): the bootstrap of censored data
    by person; the number given the chances is Poisson-binomial.
    """
    normal_quantile(level)
    days, codes = whole_numbers("times", times), cause_codes("causes", causes)
    entered = np.zeros_like(days) if entry is None else whole_numbers("entry", entry)
    same_length(times=days, causes=codes, entry=entered)
    waited, ahead = whole_numbers("ages", ages), whole_number("horizon", horizon)
    wanted = cause_among("cause", cause, codes)
    rounds = whole_number("draws", draws, least=1)
    start = whole_number("seed", seed)

    known = record(days, codes, entered, wanted)
    age, leads = np.unique(waited, return_counts=True)
    nothing = np.zeros(len(age))
    return _outlook(known, age, leads, nothing, nothing, ahead, level, rounds, start).returns


def from_counts(
    days: npt.ArrayLike,
    causes: npt.ArrayLike,
    entries: npt.ArrayLike,
    counts: npt.ArrayLike,
    waiting: Waiting,
    horizon: int,
    *,
    cause: int = 1,
    level: float = 0.95,
    draws: int,
    seed: int,
) -> Outlook:
    """The same forecast from counted leads, and what the returns bring.

    `days`, `causes`, `entries` and `counts` (m,) say how many leads of the record are alike in
    those three; lead by lead or counted, `Outlook.returns` is the same to the last bit.

    An amount is expected of a waiting lead with its chance to return. In each round as many leads
    of an age as return bring the sum of that many amounts drawn without replacement from those of
    that age: exactly, where one lead has that age or all return, and with the mean and variance
    of such a sum (normal) where several do.

    Raises `ValueError` as `expected_returns`, and for amounts that are negative or not finite.

    Source: as `expected_returns`; for the sum without replacement Cochran WG, Sampling Techniques
    (3rd ed. 1977), theorem 2.2 (number from memory).
    """
    normal_quantile(level)
    on, codes = whole_numbers("days", days), cause_codes("causes", causes)
    entered, number = whole_numbers("entries", entries), whole_numbers("counts", counts)
    same_length(days=on, causes=codes, entries=entered, counts=number)
    ahead, wanted = whole_number("horizon", horizon), cause_among("cause", cause, codes)
    rounds = whole_number("draws", draws, least=1)
    start = whole_number("seed", seed)
    age, leads, total, squares = waiting.by_age()

    known = record_of_counts(on, codes, entered, number, wanted)
    return _outlook(known, age, leads, total, squares, ahead, level, rounds, start)


def _outlook(
    known: Record,
    age: Whole,
    leads: Whole,
    total: Decimals,
    squares: Decimals,
    ahead: int,
    level: float,
    rounds: int,
    seed: int,
) -> Outlook:
    beyond = int(leads[age + ahead > known.last_day].sum())
    if not known.size or not len(age):
        return Outlook(Forecast(0.0, 0.0, 0, 0, beyond), 0.0, 0.0, 0.0)
    chances = known.chances(known.count[np.newaxis], age, ahead)[0]
    people = np.maximum(leads, 1)
    mean = total / people
    spread = np.maximum(squares / people - mean**2, 0.0)

    # The luck of amounts is drawn apart, so that returns come out the same with and without.
    luck = np.random.default_rng([seed, 1])
    means, returns, brought = [], [], []
    for drawn, back in known.rounds(age, leads, ahead, rounds, np.random.default_rng(seed)):
        means.append(drawn @ leads)
        returns.append(back.sum(axis=1))
        deviation = np.sqrt(back * (leads - back) / np.maximum(leads - 1, 1) * spread)
        sums = back * mean + luck.standard_normal(back.shape) * deviation
        brought.append(np.clip(sums, 0.0, total).sum(axis=1))
    tails = [(1 - level) / 2, (1 + level) / 2]
    low, high = np.quantile(np.concatenate(returns), tails, method="inverted_cdf")
    least, most = np.quantile(np.concatenate(brought), tails, method="inverted_cdf")
    return Outlook(
        returns=Forecast(
            float(chances @ leads),
            float(np.concatenate(means).std()),
            int(low),
            int(high),
            beyond,
        ),
        expected=float(chances @ total),
        low=float(least),
        high=float(most),
    )
