"""A ratio of two totals and its bootstrap interval."""

from math import inf, isnan, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import bootstrap

from pipeline.stats.ratio import ratio_interval

AMOUNTS = st.lists(st.tuples(st.integers(0, 9000), st.integers(1, 600)), min_size=1, max_size=12)


def test_the_estimate_is_total_by_total() -> None:
    assert ratio_interval([1, 0, 5], [2, 1, 1], draws=50, seed=1)[0] == 1.5


def test_the_interval_is_that_of_a_general_library() -> None:
    """scipy's percentile bootstrap of the same ratio; both are simulations of 6,000 rounds."""
    rng = np.random.default_rng(3)
    fees = rng.exponential(4000, 60) * (rng.random(60) < 0.4)
    hours = rng.gamma(4, 2, 60)
    _, low, high = ratio_interval(fees, hours, draws=6000, seed=1)
    reference = bootstrap(
        (fees, hours), lambda a, b, axis: a.sum(axis) / b.sum(axis), paired=True,
        vectorized=True, n_resamples=6000, method="percentile", rng=np.random.default_rng(8),
    ).confidence_interval  # fmt: skip
    assert low == pytest.approx(reference.low, rel=0.03)
    assert high == pytest.approx(reference.high, rel=0.03)


def test_with_many_it_is_the_large_sample_interval_of_a_ratio() -> None:
    """The delta method: var(R) = Σ(a - R·b)² / (Σb)² (common practice, own formula)."""
    rng = np.random.default_rng(4)
    above, below = rng.exponential(3, 900), rng.gamma(5, 1, 900)
    ratio, low, high = ratio_interval(above, below, draws=4000, seed=2)
    error = sqrt(((above - ratio * below) ** 2).sum()) / below.sum()
    assert low == pytest.approx(ratio - 1.96 * error, rel=0.02)
    assert high == pytest.approx(ratio + 1.96 * error, rel=0.02)


@given(AMOUNTS)
def test_the_interval_lies_between_the_least_and_the_largest_single_ratio(
    amounts: list[tuple[int, int]],
) -> None:
    above, below = zip(*amounts, strict=True)
    _, low, high = ratio_interval(above, below, draws=80, seed=1)
    single = [a / b for a, b in amounts]
    assert min(single) - 1e-9 <= low <= high <= max(single) + 1e-9


@given(AMOUNTS)
def test_another_unit_changes_nothing_else(amounts: list[tuple[int, int]]) -> None:
    above, below = zip(*amounts, strict=True)
    hours = ratio_interval(above, below, draws=80, seed=1)
    minutes = ratio_interval(above, [60 * b for b in below], draws=80, seed=1)
    assert minutes == pytest.approx([value / 60 for value in hours])


def test_nothing_below_says_nothing() -> None:
    for above, below in (([], []), ([3, 4], [0, 0])):
        assert all(isnan(value) for value in ratio_interval(above, below, draws=9, seed=1))


def test_one_engagement_among_few_has_no_upper_limit() -> None:
    estimate, low, high = ratio_interval([5.0] * 4, [0, 0, 0, 1], draws=500, seed=1)
    assert estimate == 20
    assert low < 20
    assert high == inf


@pytest.mark.parametrize(
    ("above", "below", "said"),
    [
        ([-1], [1], "above"),
        ([1], [float("nan")], "below"),
        ([1, 2], [1], "below"),
        ([[1]], [1], "above"),
    ],
)
def test_bad_input_names_the_argument(above, below, said) -> None:
    with pytest.raises(ValueError, match=said):
        ratio_interval(above, below, draws=9, seed=1)


def test_at_least_one_draw_is_needed() -> None:
    with pytest.raises(ValueError, match="draws"):
        ratio_interval([1], [1], draws=0, seed=1)
