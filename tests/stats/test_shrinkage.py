"""Rates that learn from each other, against a slow and plain sum of the same model."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq
from scipy.special import betainc, betaln, expit

from pipeline.stats.shrinkage import hierarchical_rates


def plain_sum(won: list[int], of: list[int], level: float) -> np.ndarray:
    """Mean, low and high by an even grid in logit μ and log K, and scipy's incomplete beta."""
    logit, log_k = np.linspace(-18, 18, 721), np.linspace(-14, 14, 225)[:, np.newaxis]
    mean, rest, strength = expit(logit), expit(-logit), np.exp(log_k)
    alpha, beta = mean * strength, rest * strength
    density = np.log(mean * rest) + log_k - 2 * np.log1p(strength)
    for y, n in zip(won, of, strict=True):
        density = density + betaln(alpha + y, beta + n - y) - betaln(alpha, beta)
    weight = np.exp(density - density.max())
    kept = weight > 1e-12
    alpha, beta, weight = alpha[kept], beta[kept], weight[kept] / weight[kept].sum()
    found = []
    for y, n in zip(won, of, strict=True):
        a, b = alpha + y, beta + n - y

        def missing(rate: float, share: float, a: np.ndarray = a, b: np.ndarray = b) -> float:
            return float(weight @ betainc(a, b, rate)) - share

        limits = [
            0.0 if missing(1e-12, share) > 0 else brentq(missing, 1e-12, 1 - 1e-12, args=(share,))
            for share in ((1 - level) / 2, (1 + level) / 2)
        ]
        found.append([weight @ (a / (a + b)), *limits])
    return np.array(found).T


@pytest.mark.parametrize(
    ("won", "of", "level"),
    [
        ([2, 9, 31, 1, 14, 0], [5, 24, 96, 12, 33, 7], 0.95),
        ([2, 9, 31, 1, 14, 0], [5, 24, 96, 12, 33, 7], 0.8),
        ([3], [10], 0.95),
        ([0, 0, 0], [5, 8, 3], 0.9),
        ([1, 30, 3], [40, 40, 41], 0.95),
        ([40, 52, 45], [200, 240, 220], 0.95),
    ],
)
def test_a_plain_sum_over_the_model_says_the_same(
    won: list[int], of: list[int], level: float
) -> None:
    found = hierarchical_rates(won, of, level)
    mean, low, high = plain_sum(won, of, level)
    assert found.mean == pytest.approx(mean, abs=2e-6)
    assert found.low == pytest.approx(low, abs=3e-5)
    assert found.high == pytest.approx(high, abs=3e-5)


@st.composite
def groups(draw: st.DrawFn) -> tuple[list[int], list[int]]:
    of = draw(st.lists(st.integers(0, 200), min_size=1, max_size=5))
    return [draw(st.integers(0, n)) for n in of], of


@settings(max_examples=25)
@given(groups())
def test_limits_hold_the_mean_and_lie_between_0_and_1(
    counts: tuple[list[int], list[int]],
) -> None:
    found = hierarchical_rates(*counts)
    assert (found.low >= 0).all()
    assert (found.low < found.mean).all()
    assert (found.mean < found.high).all()
    assert (found.high <= 1).all()


@settings(max_examples=25)
@given(groups())
def test_failures_have_the_mirrored_rates(counts: tuple[list[int], list[int]]) -> None:
    won, of = counts
    found = hierarchical_rates(won, of)
    mirrored = hierarchical_rates([n - y for y, n in zip(won, of, strict=True)], of)
    assert 1 - mirrored.mean == pytest.approx(found.mean, abs=1e-6)
    assert 1 - mirrored.high == pytest.approx(found.low, abs=1e-4)


@settings(max_examples=25)
@given(groups())
def test_the_order_of_groups_does_not_matter(counts: tuple[list[int], list[int]]) -> None:
    won, of = counts
    found, turned = hierarchical_rates(won, of), hierarchical_rates(won[::-1], of[::-1])
    assert turned.mean[::-1] == pytest.approx(found.mean, abs=1e-9)
    assert turned.low[::-1] == pytest.approx(found.low, abs=1e-9)


def test_few_trials_are_drawn_to_the_others_and_many_stay() -> None:
    raw = np.array([4 / 5, 80 / 100])
    found = hierarchical_rates([4, 80, 20, 25, 18], [5, 100, 100, 100, 100])
    drawn = raw - found.mean[:2]
    assert drawn[0] > 5 * drawn[1] > 0


def test_groups_that_look_alike_are_drawn_together_and_stay_apart_a_little() -> None:
    found = hierarchical_rates([20, 21, 19], [100, 105, 95])
    assert np.ptp(found.mean) < 0.001
    assert (found.high - found.low > 0.05).all()


def test_a_group_without_trials_gets_what_the_others_say() -> None:
    found = hierarchical_rates([30, 33, 0], [100, 100, 0])
    assert found.mean[0] < found.mean[2] < 0.4  # the prior of the mean pulls a little to a half
    assert found.high[2] - found.low[2] > found.high[0] - found.low[0]


def test_large_counts_keep_their_digits() -> None:
    found = hierarchical_rates([200_000, 300_000], [1_000_000, 1_000_000])
    assert found.mean == pytest.approx([0.2, 0.3], abs=1e-6)
    width = 2 * 1.96 * np.sqrt(np.array([0.2 * 0.8, 0.3 * 0.7]) / 1e6)
    assert found.high - found.low == pytest.approx(width, rel=1e-3)


def test_no_groups_give_no_rates() -> None:
    assert hierarchical_rates([], []).mean.shape == (0,)
