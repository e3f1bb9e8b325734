"""The curve against its definition in exact fractions, and what holds for every record."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.stats.incidence import Incidence, cumulative_incidence

from .records import Record, arrays, exact_curve, records


def curve(record: Record) -> Incidence:
    times, causes, entry = arrays(record)
    return cumulative_incidence(times, causes, entry=entry)


@given(records(late=True))
def test_each_day_is_what_the_definition_says(record: Record) -> None:
    found = curve(record)
    expected = exact_curve(record, causes=len(found.events))
    assert list(found.days) == list(expected)
    for index, day in enumerate(expected.values()):
        assert found.at_risk[index] == day.at_risk
        assert list(found.events[:, index]) == day.events
        assert found.survival[index] == pytest.approx(float(day.survival), abs=1e-14)
        shares = [float(share) for share in day.incidence]
        assert found.incidence[:, index] == pytest.approx(shares, abs=1e-14)
        errors = [float(variance) ** 0.5 for variance in day.variance]
        assert found.se[:, index] == pytest.approx(errors, abs=1e-7)
        assert found.se[:, index] ** 2 == pytest.approx(np.square(errors), abs=1e-14)


@given(records(causes=3, late=True, most=60))
def test_all_incidences_and_survival_add_up_to_one(record: Record) -> None:
    found = curve(record)
    assert found.incidence.sum(axis=0) + found.survival == pytest.approx(1, abs=1e-14)


@given(records(causes=3, late=True, most=60))
def test_incidence_never_falls_and_limits_hold_it(record: Record) -> None:
    found = curve(record)
    assert (np.diff(found.incidence, axis=1) >= 0).all()
    inside = (found.incidence > 0) & (found.incidence < 1)
    assert (np.isnan(found.low) == ~inside).all()
    assert (np.isnan(found.high) == ~inside).all()
    assert (found.low[inside] <= found.incidence[inside]).all()
    assert (found.high[inside] >= found.incidence[inside]).all()
    assert (found.se[~inside] == 0).all()


@given(records(causes=1, late=True))
def test_without_a_competing_cause_it_is_one_less_kaplan_meier(record: Record) -> None:
    found = curve(record)
    times, causes, entry = arrays(record)
    survival = 1.0
    for day, share in zip(found.days, found.incidence[0], strict=True):
        watched = (times >= day) & ((entry < day) | (entry == 0))
        survival *= 1 - ((times == day) & (causes == 1)).sum() / watched.sum()
        assert share == pytest.approx(1 - survival, abs=1e-14)


@given(records(causes=2, late=True), st.permutations(range(25)))
def test_the_order_of_leads_changes_nothing(record: Record, order: list[int]) -> None:
    order = [index for index in order if index < len(record.times)]
    shuffled = Record(
        [record.times[i] for i in order],
        [record.causes[i] for i in order],
        [record.entry[i] for i in order],
    )
    same(curve(record), curve(shuffled))


@given(records(causes=2, late=True), st.integers(1, 400_000))
def test_longer_days_change_nothing_but_the_days(record: Record, factor: int) -> None:
    """With days in the millions too, which are counted another way."""
    longer = Record(
        [time * factor for time in record.times],
        record.causes,
        [entry * factor for entry in record.entry],
    )
    plain, stretched = curve(record), curve(longer)
    assert (stretched.days == plain.days * factor).all()
    same(plain, stretched, days=False)


def same(first: Incidence, second: Incidence, *, days: bool = True) -> None:
    names = ["at_risk", "events", "survival", "incidence", "se", "low", "high"]
    for name in names + (["days"] if days else []):
        one, other = getattr(first, name), getattr(second, name)
        assert np.array_equal(one, other, equal_nan=one.dtype.kind == "f"), name


def test_events_on_day_0_count() -> None:
    found = cumulative_incidence([0, 0, 5, 5], [1, 2, 0, 0])
    assert found.at(0, 1)[0] == 0.25
    assert found.at(0, 2)[0] == 0.25
    assert found.at_risk_on(0) == 4
    assert found.at_risk_on(1) == 2


def test_those_last_seen_on_a_day_are_at_risk_on_it() -> None:
    found = cumulative_incidence([3, 3, 4], [1, 0, 0])
    assert found.at(3, 1)[0] == pytest.approx(1 / 3)


def test_when_all_are_still_open_nothing_has_happened() -> None:
    found = cumulative_incidence([4, 9, 9], [0, 0, 0])
    assert list(found.days) == [4, 9]
    assert list(found.at_risk) == [3, 2]
    assert found.incidence.tolist() == [[0.0, 0.0]]
    assert found.at(9, 1)[:2] == (0.0, 0.0)
    assert np.isnan(found.at(9, 1)[2:]).all()


def test_one_lead() -> None:
    found = cumulative_incidence([7], [1])
    assert found.at(6, 1)[:2] == (0.0, 0.0)
    assert found.at(7, 1)[:2] == (1.0, 0.0)
    assert found.survival.tolist() == [0.0]


def test_a_last_observation_that_is_an_event_keeps_its_error() -> None:
    found = cumulative_incidence([1, 2, 3], [1, 2, 1])
    estimate, se, low, high = found.at(3, 1)
    assert estimate == pytest.approx(2 / 3)
    assert se == pytest.approx((2 / 3 * 1 / 3 / 3) ** 0.5)  # no censoring: a plain share
    assert low < estimate < high


def test_no_leads_give_an_empty_curve() -> None:
    found = cumulative_incidence([], [])
    assert found.days.shape == (0,)
    assert found.incidence.shape == (1, 0)
    assert found.at_risk_on(0) == 0
    assert np.isnan(found.at(0, 1)).all()


@given(records(least=2), st.sampled_from([0.5, 0.8, 0.99]))
def test_a_higher_level_gives_a_wider_interval(record: Record, level: float) -> None:
    times, causes, _ = arrays(record)
    found = cumulative_incidence(times, causes, level=level)
    wider = cumulative_incidence(times, causes, level=(1 + level) / 2)
    uncertain = found.se > 1e-12
    assert (wider.low[uncertain] < found.low[uncertain]).all()
    assert (wider.high[uncertain] > found.high[uncertain]).all()


def test_the_error_near_the_end_of_a_long_record_keeps_its_digits() -> None:
    """A million leads of one cause, all gone but one: a plain share of a million."""
    people = 1_000_000
    times = np.arange(people) // 1000
    found = cumulative_incidence(times, np.ones(people, dtype=int))
    before_last = found.incidence[0, :-1]
    expected = np.sqrt(before_last * (1 - before_last) / people)
    assert found.se[0, :-1] == pytest.approx(expected, rel=1e-9)
