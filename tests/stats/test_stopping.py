"""When a chance is surely under a threshold."""

from math import isnan

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.stats import stopping
from pipeline.stats.incidence import Incidence, cumulative_incidence
from pipeline.stats.proportions import wilson_interval
from pipeline.stats.stopping import Stop, stops, upper_chance

from .records import Record, arrays, records


def curve_of(*leads: tuple[int, int, int]):
    """(day, cause, how many)"""
    days = np.concatenate([[day] * number for day, _, number in leads])
    causes = np.concatenate([[cause] * number for _, cause, number in leads])
    return cumulative_incidence(days, causes)


def test_where_nobody_returned_the_limit_is_wilsons_of_none_among_those_still_there() -> None:
    curve = curve_of((400, 0, 90))
    assert upper_chance(curve, 1, 100, 90) == pytest.approx(wilson_interval(0, 90)[1])


def test_who_closed_meanwhile_counts_among_those_who_did_not_return() -> None:
    """60 close within the time and 40 stay: none of 100 returned."""
    curve = curve_of((120, 2, 60), (400, 0, 40))
    assert upper_chance(curve, 1, 100, 90) == pytest.approx(wilson_interval(0, 100)[1])


def test_where_all_close_none_of_them_returned() -> None:
    curve = curve_of((5, 1, 3), (120, 2, 60))
    assert upper_chance(curve, 1, 100, 90) == pytest.approx(wilson_interval(0, 60)[1])


def test_where_all_return_the_limit_is_one() -> None:
    assert upper_chance(curve_of((120, 1, 6)), 1, 100, 90) == 1.0


@given(records(late=True), st.integers(0, 12), st.integers(0, 8))
def test_the_limit_is_above_the_chance_and_told_where_the_chance_is(
    record: Record, age: int, horizon: int
) -> None:
    times, causes, entry = arrays(record)
    curve = cumulative_incidence(times, causes, entry=entry)
    chance = curve.conditional(1, age, horizon)[0]
    limit = upper_chance(curve, 1, age, horizon)
    assert isnan(chance) == isnan(limit)
    assert isnan(limit) or chance <= limit <= 1


def test_it_stops_at_the_first_waiting_time_after_which_nobody_came() -> None:
    """200 wait; 40 return on day 50, nobody after: none of 160 has the upper limit 2.3%."""
    curve = curve_of((50, 1, 40), (400, 0, 160))
    assert wilson_interval(0, 160)[1] < 0.05
    assert stops(curve, 1, 90, 0.05) == Stop(day=50, again=None, told_until=310)


def test_it_says_where_returns_begin_again() -> None:
    """Nobody in the first year, then twenty at once: waiting paid after all from day 275 on."""
    curve = curve_of((365, 1, 20), (700, 0, 180))
    assert stops(curve, 1, 90, 0.05) == Stop(day=0, again=275, told_until=610)


def test_few_leads_never_stop() -> None:
    assert stops(curve_of((400, 0, 20)), 1, 90, 0.05) == Stop(None, None, 310)


def test_no_leads_tell_nothing() -> None:
    assert stops(cumulative_incidence([], []), 1, 90, 0.05) == Stop(None, None, None)


@given(records(late=True), st.integers(0, 8))
def test_a_higher_threshold_stops_no_later(record: Record, horizon: int) -> None:
    times, causes, entry = arrays(record)
    curve = cumulative_incidence(times, causes, entry=entry)
    strict, loose = (stops(curve, 1, horizon, share).day for share in (0.3, 0.7))
    assert strict is None or (loose is not None and loose <= strict)


@pytest.mark.parametrize("threshold", [0, 1, -0.1, float("nan")])
def test_a_threshold_that_is_no_share_is_refused(threshold: float) -> None:
    with pytest.raises(ValueError, match="threshold"):
        stops(curve_of((4, 0, 2)), 1, 90, threshold)


@given(records(late=True), st.integers(0, 8), st.sampled_from([0.2, 0.5, 0.8, 0.95]))
def test_reading_only_where_the_curve_changes_finds_what_reading_each_day_does(
    record: Record, horizon: int, threshold: float
) -> None:
    times, causes, entry = arrays(record)
    curve = cumulative_incidence(times * 3, causes, entry=entry * 3)
    last = int(curve.days[-1]) if len(curve.days) else -1
    limits = {age: upper_chance(curve, 1, age, horizon) for age in range(last + 1)}
    told = [age for age, limit in limits.items() if not isnan(limit)]
    day = next((age for age in told if limits[age] < threshold), None)
    later = [age for age in told if day is not None and age > day]
    again = next((age for age in later if limits[age] >= threshold), None)
    assert stops(curve, 1, horizon, threshold) == Stop(day, again, told[-1] if told else None)


def test_a_wait_of_thousands_of_years_is_read_in_a_few_steps(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    read: list[int] = []

    def counted(curve: Incidence, cause: int, age: int, horizon: int) -> float:
        read.append(age)
        return upper_chance(curve, cause, age, horizon)

    monkeypatch.setattr(stopping, "upper_chance", counted)
    curve = curve_of((50, 1, 40), (2_900_000, 0, 160))
    found = stops(curve, 1, 90, 0.05)
    assert found == Stop(day=50, again=None, told_until=2_900_000 - 90)
    assert len(read) < 20
