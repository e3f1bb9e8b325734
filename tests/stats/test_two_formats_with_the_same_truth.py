"""Two formats that are equally good, one launched two years ago and one six months ago.

The truth of both: 0.200 engage within 120 days, 0.367 within 365, while others close. Counting
leads still open as lost punishes the newer one, leaving them out flatters both, taking closings
for censorings flatters both too; the incidence does none of it.
"""

from dataclasses import dataclass

import numpy as np
import pytest

from pipeline.stats.incidence import cumulative_incidence

RUNS, LEADS = 400, 60
OLDER, NEWER = 730, 182  # days since the launch
BY_120, BY_365 = 0.200, 0.367
# A day's chance to leave, and the share of those who engage: they give the truth above.
LEAVE, ENGAGE = 1 - np.exp(-0.00518), 0.4322


@dataclass(frozen=True)
class Run:
    of_all: float
    of_closed: float
    closings_as_censored: float
    estimate: float
    se: float


def run(rng: np.random.Generator, launched: int, day: int) -> Run:
    leaves = rng.geometric(LEAVE, LEADS)
    why = np.where(rng.random(LEADS) < ENGAGE, 1, 2)
    seen = rng.integers(0, launched + 1, LEADS)
    times, causes = np.minimum(leaves, seen), np.where(leaves <= seen, why, 0)
    engaged = (causes == 1).sum()
    censored = cumulative_incidence(times, causes == 1)
    estimate, se, _, _ = cumulative_incidence(times, causes).at(day, 1)
    return Run(engaged / LEADS, engaged / (causes > 0).sum(), censored.at(day, 1)[0], estimate, se)


@pytest.fixture(scope="module")
def runs() -> tuple[list[Run], list[Run], list[Run]]:
    """The older format by 120 days and by 365, the newer by 120."""
    rng = np.random.default_rng(20)
    older, late, newer = [], [], []
    for _ in range(RUNS):
        older.append(run(rng, OLDER, 120))
        late.append(run(rng, OLDER, 365))
        newer.append(run(rng, NEWER, 120))
    return older, late, newer


def mean(found: list[Run], name: str) -> float:
    return float(np.nanmean([getattr(one, name) for one in found]))


def differ(first: float, first_variance: float, second: float, second_variance: float) -> bool:
    return abs(first - second) > 1.96 * np.sqrt(first_variance + second_variance)


def test_the_truth_is_as_said() -> None:
    days = np.array([120, 365])
    assert ENGAGE * (1 - (1 - LEAVE) ** days) == pytest.approx([BY_120, BY_365], abs=5e-4)


def test_the_incidence_is_not_biased(runs: tuple[list[Run], ...]) -> None:
    older, late, newer = runs
    # The mean of 400 runs has a standard error of about 0.003.
    assert mean(older, "estimate") == pytest.approx(BY_120, abs=0.01)
    assert mean(newer, "estimate") == pytest.approx(BY_120, abs=0.01)
    assert mean(late, "estimate") == pytest.approx(BY_365, abs=0.012)


def test_engaged_of_all_leads_makes_the_newer_format_look_worse(
    runs: tuple[list[Run], ...],
) -> None:
    older, _, newer = runs
    assert mean(older, "of_all") > 0.29
    assert mean(newer, "of_all") < 0.17


def test_engaged_of_closed_leads_flatters_both(runs: tuple[list[Run], ...]) -> None:
    older, _, newer = runs
    assert mean(older, "of_closed") > 0.4
    assert mean(newer, "of_closed") > 0.4


def test_closings_taken_for_censorings_flatter_both(runs: tuple[list[Run], ...]) -> None:
    _, late, newer = runs
    assert mean(late, "closings_as_censored") > BY_365 + 0.12
    assert mean(newer, "closings_as_censored") > BY_120 + 0.02


def test_of_all_leads_calls_them_different_and_the_incidence_hardly_ever(
    runs: tuple[list[Run], ...],
) -> None:
    older, _, newer = runs
    naive = honest = 0
    for old, new in zip(older, newer, strict=True):
        spread = [one.of_all * (1 - one.of_all) / LEADS for one in (old, new)]
        naive += differ(old.of_all, spread[0], new.of_all, spread[1])
        honest += differ(old.estimate, old.se**2, new.estimate, new.se**2)
    assert naive / RUNS > 0.4
    assert 0.02 < honest / RUNS < 0.08
