"""Returns to come from counted leads, and what they bring."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.stats.forecast import Waiting, expected_returns, from_counts

from .records import Record, arrays, records


def waiting(ages: list[int], amounts: list[float] | None = None) -> Waiting:
    """One lead a row."""
    sums = amounts or [0.0] * len(ages)
    return Waiting(ages, [1] * len(ages), sums, [amount**2 for amount in sums])


@settings(max_examples=60)
@given(records(late=True), st.lists(st.integers(0, 15), max_size=8), st.integers(0, 12))
def test_counted_leads_give_the_same_forecast_to_the_last_bit(
    record: Record, ages: list[int], horizon: int
) -> None:
    times, causes, entry = arrays(record)
    rows, counts = np.unique(np.vstack((times, causes, entry)), axis=1, return_counts=True)
    by_lead = expected_returns(times, causes, ages, horizon, entry=entry, draws=40, seed=5)
    amounts = [100.0 + age for age in ages]
    counted = from_counts(*rows, counts, waiting(ages, amounts), horizon, draws=40, seed=5)
    assert counted.returns == by_lead


def test_ages_counted_together_or_apart_are_the_same() -> None:
    times, causes, none = [5, 9, 12, 30, 60], [1, 2, 1, 0, 0], [0] * 5
    apart = from_counts(times, causes, none, [1] * 5, waiting([4, 7, 4], [9.0, 1.0, 3.0]), 8,
                        draws=90, seed=1)  # fmt: skip
    together = Waiting([4, 7], [2, 1], [12.0, 1.0], [90.0, 1.0])
    assert from_counts(times, causes, none, [1] * 5, together, 8, draws=90, seed=1) == apart


@given(
    records(late=True), st.lists(st.tuples(st.integers(0, 15), st.integers(0, 900)), max_size=8)
)
def test_equal_amounts_bring_as_many_times_the_returns(
    record: Record, leads: list[tuple[int, int]]
) -> None:
    times, causes, entry = arrays(record)
    ages = [age for age, _ in leads]
    found = from_counts(
        times, causes, entry, np.ones_like(times), waiting(ages, [250.0] * len(ages)), 9,
        draws=60, seed=2,
    )  # fmt: skip
    assert found.expected == pytest.approx(250 * found.returns.expected)
    assert found.low == pytest.approx(250 * found.returns.low)
    assert found.high == pytest.approx(250 * found.returns.high)


@given(
    records(late=True), st.lists(st.tuples(st.integers(0, 15), st.integers(0, 900)), max_size=8)
)
def test_no_more_comes_than_is_expected_of_all(
    record: Record, leads: list[tuple[int, int]]
) -> None:
    times, causes, entry = arrays(record)
    amounts = [float(amount) for _, amount in leads]
    found = from_counts(
        times, causes, entry, np.ones_like(times), waiting([age for age, _ in leads], amounts), 9,
        draws=60, seed=2,
    )  # fmt: skip
    assert 0 <= found.low <= found.high <= sum(amounts) + 1e-6


def test_sums_of_several_leads_of_one_age_spread_as_drawing_them_one_by_one_does() -> None:
    """Six amounts, all of one age, against the same by hand (a simulation, no outside source)."""
    rng = np.random.default_rng(11)
    times, causes = rng.integers(1, 100, 80), rng.integers(0, 2, 80)
    amounts = [500.0, 1500.0, 2000.0, 8000.0, 300.0, 4000.0]
    one_age = Waiting([20], [6], [sum(amounts)], [sum(a * a for a in amounts)])
    together = from_counts(times, causes, 0 * times, 0 * times + 1, one_age, 40,
                           draws=6000, seed=1)  # fmt: skip
    chance = together.returns.expected / 6
    drawn = (rng.random((6000, 6)) < chance) @ np.array(amounts)
    assert together.expected == pytest.approx(chance * sum(amounts))
    assert together.low == pytest.approx(np.quantile(drawn, 0.025), abs=900)
    assert together.high == pytest.approx(np.quantile(drawn, 0.975), rel=0.12)


@pytest.mark.parametrize(
    ("amounts", "said"),
    [([-1.0], "total"), ([float("nan")], "total"), ([float("inf")], "total")],
)
def test_an_amount_that_is_none_is_refused(amounts: list[float], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        from_counts([5], [1], [0], [1], waiting([2], amounts), 3, draws=9, seed=1)


def test_counts_that_do_not_belong_together_are_refused() -> None:
    with pytest.raises(ValueError, match="counts"):
        from_counts([5, 6], [1, 0], [0, 0], [1], waiting([2]), 3, draws=9, seed=1)
