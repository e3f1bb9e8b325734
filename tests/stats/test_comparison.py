"""Gray's test, the log-rank test and Holm: what holds for all records."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.stats.comparison import gray_test, holm, logrank_test

from .records import Record, arrays, records


def groups_of(record: Record, count: int) -> np.ndarray:
    return np.arange(len(record.times)) % count


@given(records(least=4), st.integers(2, 4))
def test_neither_order_nor_names_of_the_groups_matter(record: Record, count: int) -> None:
    times, causes, _ = arrays(record)
    groups = groups_of(record, count)
    first = gray_test(times, causes, groups)
    renamed = gray_test(times[::-1], causes[::-1], [f"format {9 - g}" for g in groups[::-1]])
    unsorted = gray_test(times, causes, [None if g == 0 else f"source {g}" for g in groups])
    for other in (renamed, unsorted):
        assert other.df == first.df
        assert other.statistic == pytest.approx(first.statistic, rel=1e-6, nan_ok=True)
        assert other.p_value == pytest.approx(first.p_value, rel=1e-6, nan_ok=True)


@given(records(least=2), st.integers(2, 3))
def test_groups_with_the_same_record_do_not_differ(record: Record, count: int) -> None:
    times, causes, _ = arrays(record)
    times, causes = np.tile(times, count), np.tile(causes, count)
    groups = np.repeat(np.arange(count), len(record.times))
    found = gray_test(times, causes, groups)
    if found.df:
        assert found.statistic == pytest.approx(0, abs=1e-9)
        assert found.p_value == pytest.approx(1)
    else:
        assert np.isnan(found.p_value)
    hazards = logrank_test(times, causes == 1, groups)
    assert hazards.df == 0 or hazards.statistic == pytest.approx(0, abs=1e-9)


@given(records(least=4))
def test_a_day_on_which_somebody_is_only_last_seen_may_move(record: Record) -> None:
    """Only who is at risk on a day with events counts, not when between two such days one left."""
    times, causes, _ = arrays(record)
    times, groups = times * 10, groups_of(record, 2)
    later = np.where(causes == 0, times + 5, times)
    first, second = gray_test(times, causes, groups), gray_test(later, causes, groups)
    assert second.statistic == pytest.approx(first.statistic, rel=1e-9, nan_ok=True)


def test_a_cause_that_nobody_left_for_cannot_tell_groups_apart() -> None:
    found = gray_test([1, 2, 3, 4], [2, 2, 0, 2], [1, 1, 2, 2])
    assert found.df == 0
    assert np.isnan([found.statistic, found.p_value]).all()


def test_gray_asks_about_incidence_and_logrank_about_the_hazard() -> None:
    """Group b loses many to cause 2 first: the hazard of 1 is the same, its incidence is not."""
    days = np.tile(np.arange(1, 41), 2)
    early = np.repeat([0, 1], 40)
    times = np.concatenate((days, np.ones(80, dtype=int)))
    causes = np.concatenate((np.ones(80, dtype=int), np.full(80, 2)))
    groups = np.concatenate((early, np.ones(80, dtype=int)))
    assert logrank_test(times, causes == 1, groups).p_value > 0.5
    assert gray_test(times, causes, groups).p_value < 0.001


def test_under_the_same_truth_one_in_twenty_is_called_different() -> None:
    rng = np.random.default_rng(11)
    groups, called, runs = np.repeat([0, 1, 2], 40), 0, 800
    for _ in range(runs):
        times = rng.geometric(0.02, 120)
        causes = np.where(rng.random(120) < 0.5, 1, 2)
        seen = rng.integers(1, 120, 120)
        found = gray_test(np.minimum(times, seen), np.where(times <= seen, causes, 0), groups)
        called += found.p_value < 0.05
    assert 0.03 < called / runs < 0.07


@given(st.lists(st.floats(0, 1), max_size=12))
def test_holm_never_lowers_a_p_value_and_keeps_their_order(p_values: list[float]) -> None:
    given_values, adjusted = np.array(p_values), holm(p_values)
    assert (adjusted >= given_values).all()
    assert (adjusted <= 1).all()
    order = np.argsort(given_values, kind="stable")
    assert (np.diff(adjusted[order]) >= 0).all()


def test_holm_by_hand() -> None:
    assert holm([0.04, 0.01, 0.03]) == pytest.approx([0.06, 0.03, 0.06])
    assert holm([]).shape == (0,)
