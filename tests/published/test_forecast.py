"""The number of returns to come; each source stands in the data."""

import numpy as np
import pytest

from pipeline.stats.forecast import expected_returns, poisson_binomial
from pipeline.stats.incidence import cumulative_incidence

from .checks import Check, checks, name, times_and_causes

SHARES = {0.95: (0, 4), 0.8: (1, 3)}  # a level, and where its limits stand among the quantiles


def quantile(mass: np.ndarray, share: float) -> int:
    return int(np.argmax(np.cumsum(mass) >= share - 1e-12))


def quantiles(mass: np.ndarray) -> list[int]:
    return [quantile(mass, share) for share in (0.025, 0.1, 0.5, 0.9, 0.975)]


@pytest.mark.parametrize("check", checks("poisson_binomial"), ids=name)
def test_the_number_of_successes(check: Check) -> None:
    mass = poisson_binomial(check["input"]["p"])
    assert mass == pytest.approx(check["expected"]["pmf"], abs=check["tolerance_abs"])
    assert quantiles(mass) == check["expected"]["quantiles_2_5_10_50_90_97_5"]


@pytest.mark.parametrize("check", checks("waiting_forecast"), ids=name)
def test_those_now_waiting(check: Check) -> None:
    given, expected, tolerance = check["input"], check["expected"], check["tolerance_abs"]
    times, causes = times_and_causes(given["csv"])
    ages = times[causes == 0]
    assert len(ages) == expected["n_waiting"]
    for level, (low, high) in SHARES.items():
        found = expected_returns(
            times, causes, ages, given["h"], level=level, draws=20_000, seed=7
        )
        assert found.expected == pytest.approx(expected["expected"], abs=tolerance)
        assert found.beyond == expected["beyond_support"]
        # Two programs with different seeds agreed to 5 % and to one lead.
        assert found.se == pytest.approx(expected["bootstrap_sd_of_expected"], rel=0.05)
        limits = expected["bootstrap_predictive_q_2_5_10_50_90_97_5"]
        assert abs(found.low - limits[low]) <= 1
        assert abs(found.high - limits[high]) <= 1


@pytest.mark.parametrize("check", checks("waiting_forecast"), ids=name)
def test_without_the_uncertainty_of_the_curve(check: Check) -> None:
    """The chances read off the curve, level after its last day, give the published spread."""
    given, expected, tolerance = check["input"], check["expected"], check["tolerance_abs"]
    times, causes = times_and_causes(given["csv"])
    curve, last = cumulative_incidence(times, causes), int(times.max())
    chances = []
    for age in times[causes == 0]:
        reach = min(int(age) + given["h"], last) - int(age)
        chance = curve.conditional(1, int(age), reach)[0]
        chances.append(0.0 if reach == 0 else chance)
    mass = poisson_binomial(chances)
    spread = np.sqrt(sum(chance * (1 - chance) for chance in chances))
    assert sum(chances) == pytest.approx(expected["expected"], abs=tolerance)
    assert spread == pytest.approx(expected["sd_poisson_binomial"], abs=tolerance)
    assert mass[0] == pytest.approx(expected["p_zero"], abs=tolerance)
    assert quantiles(mass) == expected["pb_quantiles"]
