"""Returns to come: from the curve, with its uncertainty, and at least."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.stats.forecast import expected_returns, poisson_binomial
from pipeline.stats.incidence import cumulative_incidence

from .records import Record, arrays, records


@settings(max_examples=60)
@given(records(late=True), st.lists(st.integers(0, 15), max_size=8), st.integers(0, 12))
def test_the_expected_number_is_the_sum_of_the_chances(
    record: Record, ages: list[int], horizon: int
) -> None:
    times, causes, entry = arrays(record)
    curve = cumulative_incidence(times, causes, entry=entry)
    found = expected_returns(times, causes, ages, horizon, entry=entry, draws=3, seed=1)

    def level(day: int) -> tuple[float, float]:
        """Incidence and survival on a day, level where the curve says nothing."""
        index = np.searchsorted(curve.days, day, side="right") - 1
        return (curve.incidence[0, index], curve.survival[index]) if index >= 0 else (0.0, 1.0)

    total = 0.0
    for age in ages:
        (now, waiting), (then, _) = level(age), level(age + horizon)
        chance = (then - now) / waiting if waiting > 0 else 0.0
        told = curve.conditional(1, age, horizon)[0]
        assert np.isnan(told) or told == pytest.approx(chance, abs=1e-12)
        total += chance
    assert found.expected == pytest.approx(total, abs=1e-12)
    assert found.beyond == sum(age + horizon > record.last for age in ages)
    assert 0 <= found.low <= found.high <= len(ages)


def test_the_same_seed_gives_the_same_interval() -> None:
    times, causes = [5, 9, 12, 20, 30, 41, 60], [1, 2, 1, 0, 1, 0, 0]
    ages = [20, 41, 60]
    first, second = (
        expected_returns(times, causes, ages, 15, draws=400, seed=3) for _ in range(2)
    )
    other = expected_returns(times, causes, ages, 15, draws=400, seed=4)
    assert first == second
    assert other.se != first.se
    assert other.expected == first.expected


def test_late_entry_is_drawn_with_its_lead() -> None:
    rng = np.random.default_rng(8)
    times = rng.integers(20, 200, 60)
    causes, entry = rng.integers(0, 3, 60), np.where(rng.random(60) < 0.4, 15, 0)
    ages = times[causes == 0]
    found = expected_returns(times, causes, ages, 40, entry=entry, draws=2000, seed=2)
    draws = []
    for _ in range(2000):  # the same by hand, one curve a round
        pick = rng.integers(0, 60, 60)
        curve = cumulative_incidence(times[pick], causes[pick], entry=entry[pick])
        now = np.searchsorted(curve.days, ages, side="right") - 1
        then = np.searchsorted(curve.days, ages + 40, side="right") - 1
        share = np.concatenate((curve.incidence[0], [0.0]))
        waiting = np.concatenate((curve.survival, [1.0]))[now]
        gain = np.divide(share[then] - share[now], waiting, np.zeros(len(ages)), where=waiting > 0)
        draws.append(gain.sum())
    assert found.se == pytest.approx(np.std(draws), rel=0.07)


def test_the_interval_is_wider_than_luck_alone() -> None:
    """With few leads behind the curve, its own uncertainty shows."""
    times, causes = [10, 20, 30, 40, 50, 60, 100, 100], [1, 2, 1, 2, 1, 2, 0, 0]
    ages = [0] * 200
    found = expected_returns(times, causes, ages, 60, draws=4000, seed=5)
    luck = 1.96 * np.sqrt(200 * 3 / 8 * 5 / 8)
    assert found.expected == pytest.approx(75)
    assert found.high - found.low > 4 * luck


def test_a_wider_level_gives_a_wider_interval() -> None:
    times, causes = [5, 9, 12, 20, 30, 41, 60], [1, 2, 1, 0, 1, 0, 0]
    wide, narrow = (
        expected_returns(times, causes, [0] * 40, 30, level=level, draws=2000, seed=3)
        for level in (0.95, 0.5)
    )
    assert wide.low < narrow.low <= narrow.high < wide.high


def test_another_cause_may_be_asked_for() -> None:
    times, causes = [1, 2, 3, 4], [2, 1, 2, 0]
    first, second = (
        expected_returns(times, causes, [0], 3, cause=cause, draws=10, seed=1).expected
        for cause in (1, 2)
    )
    assert (first, second) == (pytest.approx(0.25), pytest.approx(0.5))


def test_nobody_waiting_or_nobody_known_expects_nobody() -> None:
    nobody = expected_returns([1, 2], [1, 0], [], 90, draws=10, seed=1)
    assert (nobody.expected, nobody.low, nobody.high, nobody.beyond) == (0.0, 0, 0, 0)
    unknown = expected_returns([], [], [30, 60], 90, draws=10, seed=1)
    assert (unknown.expected, unknown.low, unknown.high, unknown.beyond) == (0.0, 0, 0, 2)


@given(st.lists(st.floats(0, 1), max_size=20))
def test_the_number_of_successes_has_its_mean_and_variance(chances: list[float]) -> None:
    mass, p = poisson_binomial(chances), np.array(chances)
    number = np.arange(len(chances) + 1)
    assert mass.sum() == pytest.approx(1)
    assert mass @ number == pytest.approx(p.sum(), abs=1e-9)
    assert mass @ number**2 - (mass @ number) ** 2 == pytest.approx(p @ (1 - p), abs=1e-9)


def test_sure_things_are_sure() -> None:
    assert poisson_binomial([1, 0, 1]).tolist() == [0.0, 0.0, 1.0, 0.0]
    assert poisson_binomial([]).tolist() == [1.0]
