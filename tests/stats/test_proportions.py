"""Shares and differences: what holds for all counts, and what other libraries say."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest
from statsmodels.stats.proportion import confint_proportions_2indep

from pipeline.stats.proportions import difference_interval, square_and_add, wilson_interval

LEVELS = st.sampled_from([0.5, 0.8, 0.9, 0.95, 0.99])


@st.composite
def shares(draw: st.DrawFn) -> tuple[int, int]:
    trials = draw(st.integers(1, 500))
    return draw(st.integers(0, trials)), trials


@given(shares(), LEVELS)
def test_scipy_has_the_same_wilson_interval(share: tuple[int, int], level: float) -> None:
    reference = binomtest(*share).proportion_ci(level, method="wilson")
    assert wilson_interval(*share, level) == pytest.approx(tuple(reference), abs=1e-12)


@given(shares(), shares(), LEVELS)
def test_statsmodels_has_the_same_difference(
    first: tuple[int, int], second: tuple[int, int], level: float
) -> None:
    low, high = confint_proportions_2indep(
        *first, *second, method="newcomb", compare="diff", alpha=1 - level
    )
    difference, *limits = difference_interval(*first, *second, level)
    assert difference == first[0] / first[1] - second[0] / second[1]
    assert limits == pytest.approx([low, high], abs=1e-9)


@given(shares(), LEVELS)
def test_the_limits_hold_the_share_and_are_sharp_at_the_ends(
    share: tuple[int, int], level: float
) -> None:
    successes, trials = share
    low, high = wilson_interval(successes, trials, level)
    assert 0 <= low <= successes / trials <= high <= 1
    assert low < high
    assert (low == 0) == (successes == 0)
    assert (high == 1) == (successes == trials)


@given(shares())
def test_failures_have_the_mirrored_interval(share: tuple[int, int]) -> None:
    successes, trials = share
    low, high = wilson_interval(successes, trials)
    mirrored = wilson_interval(trials - successes, trials)
    assert (1 - high, 1 - low) == pytest.approx(mirrored, abs=1e-14)


@given(shares(), shares())
def test_the_difference_turned_round_is_its_mirror(
    first: tuple[int, int], second: tuple[int, int]
) -> None:
    difference, low, high = difference_interval(*first, *second)
    assert difference_interval(*second, *first) == pytest.approx((-difference, -high, -low))
    assert -1 <= low <= difference <= high <= 1


def test_square_and_add_is_a_right_triangle() -> None:
    # By hand: lower legs 0.3 and 0.4, upper legs 0.6 and 0.8.
    found = square_and_add(0.8, (0.5, 1.4), 0.1, (-0.7, 0.5))
    assert found == pytest.approx((0.7, 0.2, 1.7))


def test_numbers_from_numpy_are_numbers() -> None:
    assert wilson_interval(np.int64(3), np.int32(9)) == wilson_interval(3, 9)
