"""Rates of several groups; each source stands in the data."""

import numpy as np
import pytest
from scipy.optimize import minimize

from pipeline.stats.shrinkage import hierarchical_rates, log_likelihood

from .checks import Check, checks, column, name, rows


def counts(check: Check) -> tuple[np.ndarray, np.ndarray]:
    table = rows(check["input"]["csv"])
    if "rows" in check["input"]:
        assert check["input"]["rows"] == "first 70"
        table = table[:70]
    return column(table, "y"), column(table, "n")


def shapes(mean: float, strength: float) -> tuple[np.ndarray, np.ndarray]:
    return np.array(mean * strength), np.array((1 - mean) * strength)


@pytest.mark.parametrize("check", checks("beta_binomial_hierarchical"), ids=name)
def test_the_posterior_means(check: Check) -> None:
    found = hierarchical_rates(check["input"]["y"], check["input"]["n"])
    expected = check["expected"]["posterior_mean"]
    assert found.mean == pytest.approx(expected, abs=check["tolerance_abs"])


@pytest.mark.parametrize("check", checks("beta_binomial_hierarchical"), ids=name)
def test_the_most_likely_strength_runs_away_where_ours_does_not(check: Check) -> None:
    won, of = np.array(check["input"]["y"]), np.array(check["input"]["n"])
    together = won.sum() / of.sum()
    assert together == pytest.approx(0.32203390, abs=5e-9)  # the limit that the source names
    heights = [log_likelihood(won, of, *shapes(together, 10.0**power)) for power in range(1, 8)]
    assert np.all(np.diff(heights) > 0)
    assert np.ptp(hierarchical_rates(won, of).mean) > 0.2


@pytest.mark.parametrize("check", checks("beta_binomial_mle"), ids=name)
def test_the_likelihood_peaks_where_published(check: Check) -> None:
    won, of = counts(check)
    peak = minimize(
        lambda at: -log_likelihood(won, of, *np.exp(at)),
        np.zeros(2),
        method="Nelder-Mead",
        options={"xatol": 1e-8, "fatol": 1e-10},
    )
    alpha, beta = np.exp(peak.x)
    expected, tolerance = check["expected"], check["tolerance_abs"]
    assert [alpha, beta] == pytest.approx([expected["alpha"], expected["beta"]], abs=tolerance)
    assert [alpha, beta] == pytest.approx(expected["published"], abs=tolerance)


@pytest.mark.parametrize("check", checks("beta_binomial_posterior_mode"), ids=name)
def test_the_likelihood_under_the_books_prior_peaks_where_published(check: Check) -> None:
    """The book's prior of the mean is 1/(μ(1-μ)), ours is uniform; p(K) is the same.

    The published mode is where the book's optimiser stopped, at a relative tolerance of 1e-8: the
    density there, 571 in logarithm, is short of its peak by just that, while the mode itself
    is 0.0016 away in log K (the same with scipy's betaln in place of ours).
    """
    won, of = counts(check)

    def depth(at: np.ndarray) -> float:
        mean, strength = 1 / (1 + np.exp(-at[0])), np.exp(at[1])
        # On the scale of logit μ the book's prior of the mean is level.
        prior = at[1] - 2 * np.log1p(strength)
        return -float(log_likelihood(won, of, *shapes(mean, strength)) + prior)

    peak = minimize(
        depth, np.array([-7.0, 6.0]), method="Nelder-Mead", options={"xatol": 1e-8, "fatol": 1e-10}
    )
    for expected in (check["expected"]["mode"], check["expected"]["published"]):
        assert depth(np.array(expected)) == pytest.approx(peak.fun, rel=2e-8)
        assert peak.x == pytest.approx(expected, abs=2 * check["tolerance_abs"])


@pytest.mark.parametrize("check", checks("beta_binomial_moments"), ids=name)
def test_the_table_from_memory_has_the_published_moments(check: Check) -> None:
    """Holds the table, not the program: a slip in it would show here."""
    won, of = counts(check)
    shares, expected = won / of, check["expected"]
    assert shares.mean() == pytest.approx(expected["mean"], abs=check["tolerance_abs"])
    assert shares.std(ddof=1) == pytest.approx(expected["sd"], abs=check["tolerance_abs"])
    assert shares.mean() == pytest.approx(expected["published"]["mean"], abs=5e-4)
    assert shares.std(ddof=1) == pytest.approx(expected["published"]["sd"], abs=5e-4)
