"""Counts a day from the database give the curve of the leads themselves, to the last bit."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from pipeline.stats.incidence import Incidence, cumulative_incidence, from_counts

from .records import Record, arrays, records
from .test_incidence import same


def counted(record: Record, causes: int) -> tuple[np.ndarray, ...]:
    times, codes, entry = arrays(record)
    days = np.unique(np.concatenate((times, entry)))
    exits = np.array([(times == day).sum() for day in days])
    events = np.array(
        [
            [((times == day) & (codes == cause)).sum() for day in days]
            for cause in causes_of(causes)
        ]
    )
    entries = np.array([(entry == day).sum() for day in days])
    return days, exits, events, entries


def causes_of(count: int) -> range:
    return range(1, count + 1)


def both(record: Record) -> tuple[Incidence, tuple[np.ndarray, ...]]:
    times, codes, entry = arrays(record)
    found = cumulative_incidence(times, codes, entry=entry)
    return found, counted(record, len(found.events))


@given(records(late=True))
def test_both_ways_agree_to_the_last_bit(record: Record) -> None:
    found, (days, exits, events, entries) = both(record)
    same(found, from_counts(days, exits, events, entries))


@given(records())
def test_without_entries_all_are_at_risk_from_the_start(record: Record) -> None:
    found, (days, exits, events, _) = both(record)
    same(found, from_counts(days, exits, events))


@given(records(late=True), st.randoms())
def test_neither_order_nor_a_day_in_parts_matters(record: Record, random: object) -> None:
    found, (days, exits, events, entries) = both(record)
    # Each day twice: once with its leavers, once with those who enter.
    order = list(range(2 * len(days)))
    random.shuffle(order)  # type: ignore[attr-defined]
    nothing = np.zeros_like(exits)
    twice = (
        np.concatenate((days, days))[order],
        np.concatenate((exits, nothing))[order],
        np.concatenate((events, np.zeros_like(events)), axis=1)[:, order],
        np.concatenate((nothing, entries))[order],
    )
    same(found, from_counts(*twice))


@given(records(late=True))
def test_every_method_agrees(record: Record) -> None:
    found, (days, exits, events, entries) = both(record)
    other = from_counts(days, exits, events, entries)
    for day in range(record.last + 2):
        assert found.at_risk_on(day) == other.at_risk_on(day)
        assert np.array_equal(found.at(day, 1), other.at(day, 1), equal_nan=True)
        pair = [curve.effective_interval(day, 1) for curve in (found, other)]
        assert np.array_equal(*pair, equal_nan=True)
        pair = [curve.conditional(1, day, 2) for curve in (found, other)]
        assert np.array_equal(*pair, equal_nan=True)
        pair = [curve.restricted_mean(1, day) for curve in (found, other)]
        assert np.array_equal(*pair, equal_nan=True)


def test_one_cause_may_come_as_one_row() -> None:
    same(from_counts([1, 4], [2, 3], [1, 2]), from_counts([1, 4], [2, 3], [[1, 2]]))


def test_a_cause_that_nobody_left_for_keeps_its_row() -> None:
    found = from_counts([1, 4], [2, 3], [[1, 2], [0, 0]])
    assert found.at(4, 2)[:2] == (0.0, 0.0)


def test_no_days_at_all() -> None:
    found = from_counts([], [], [[], []])
    assert found.events.shape == (2, 0)
    assert np.isnan(found.at(90, 2)).all()
