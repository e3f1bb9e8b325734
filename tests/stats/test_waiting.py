"""The chance of those still waiting, and the mean days lost, against their definitions."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.stats.incidence import cumulative_incidence

from .records import Record, arrays, exact_curve, records


@given(records(late=True), st.integers(0, 12), st.integers(0, 12))
def test_the_chance_is_the_incidence_of_those_who_stay(
    record: Record, age: int, horizon: int
) -> None:
    times, causes, entry = arrays(record)
    found = cumulative_incidence(times, causes, entry=entry)
    p, se, low, high = found.conditional(1, age, horizon)
    if np.isnan(p):
        return
    later = [day for when, day in exact_curve(record, after=age).items() if when <= age + horizon]
    expected = later[-1].incidence[0] if later else 0
    variance = later[-1].variance[0] if later else 0
    assert p == pytest.approx(float(expected), abs=1e-14)
    assert se**2 == pytest.approx(float(variance), abs=1e-14)
    assert np.isnan([low, high]).all() == (expected in (0, 1))


@given(records(late=True), st.integers(0, 10), st.integers(1, 10))
def test_the_chance_is_what_the_curve_gains_over_who_still_waits(
    record: Record, age: int, horizon: int
) -> None:
    times, causes, entry = arrays(record)
    found = cumulative_incidence(times, causes, entry=entry)
    p = found.conditional(1, age, horizon)[0]
    now, then = found.at(age, 1)[0], found.at(age + horizon, 1)[0]
    if np.isnan([p, now, then]).any():
        return
    waiting = found.survival[found.days <= age]
    assert p * (waiting[-1] if waiting.size else 1) == pytest.approx(then - now, abs=1e-13)


@given(records(late=True), st.integers(0, 12))
def test_the_days_lost_are_the_area_under_the_curve(record: Record, until: int) -> None:
    times, causes, entry = arrays(record)
    found = cumulative_incidence(times, causes, entry=entry)
    if not found.told_on(until):
        return
    curve = exact_curve(record)
    area = 0.0
    for day in range(until):
        so_far = [value for when, value in curve.items() if when <= day]
        area += float(so_far[-1].incidence[0]) if so_far else 0.0
    assert found.restricted_mean(1, until)[0] == pytest.approx(area, abs=1e-12)


@given(records(censored=False, least=2))
def test_without_censoring_the_error_of_the_mean_is_that_of_a_mean(record: Record) -> None:
    times, causes, _ = arrays(record)
    until = record.last + 1
    lost = np.where(causes == 1, until - times, 0)
    mean, se = cumulative_incidence(times, causes).restricted_mean(1, until)
    assert mean == pytest.approx(lost.mean(), abs=1e-12)
    assert se == pytest.approx(lost.std() / np.sqrt(len(lost)), abs=1e-7)


@given(records(causes=3, late=True), st.integers(0, 12))
def test_the_days_lost_to_all_causes_and_the_days_waiting_are_all_days(
    record: Record, until: int
) -> None:
    times, causes, entry = arrays(record)
    found = cumulative_incidence(times, causes, entry=entry)
    if not found.told_on(until):
        return
    rows = range(1, len(found.events) + 1)
    waiting = sum(
        found.survival[found.days <= day][-1] if (found.days <= day).any() else 1.0
        for day in range(until)
    )
    lost = sum(found.restricted_mean(cause, until)[0] for cause in rows)
    assert lost + waiting == pytest.approx(until, abs=1e-11)


def test_the_median_is_the_first_day_with_half_gone() -> None:
    found = cumulative_incidence([2, 4, 6, 8], [1, 1, 2, 1])
    day, low, high = found.median(1)
    assert day == 4
    assert low is not None
    assert low <= day
    assert high is None or high >= day
