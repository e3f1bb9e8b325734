"""A lead that is followed from a later day says nothing about the days before."""

import numpy as np
import pytest
from hypothesis import given

from pipeline.stats.incidence import cumulative_incidence

from .records import Record, arrays, records
from .test_incidence import same


@given(records(late=True))
def test_at_risk_on_any_day_is_who_has_entered_and_not_left(record: Record) -> None:
    times, causes, entry = arrays(record)
    found = cumulative_incidence(times, causes, entry=entry)
    for day in range(record.last + 3):
        watched = (times >= day) & ((entry < day) | (entry == 0))
        assert found.at_risk_on(day) == watched.sum()


@given(records())
def test_entry_at_the_start_changes_nothing(record: Record) -> None:
    times, causes, _ = arrays(record)
    plain = cumulative_incidence(times, causes)
    same(plain, cumulative_incidence(times, causes, entry=np.zeros_like(times)))


def test_who_enters_late_is_at_risk_from_the_next_day() -> None:
    found = cumulative_incidence([5, 9], [1, 0], entry=[0, 5])
    assert found.at_risk_on(5) == 1
    assert found.at_risk_on(6) == 1
    assert found.at(5, 1)[0] == 1.0


def test_entry_0_is_at_risk_on_day_0() -> None:
    assert cumulative_incidence([0, 3], [1, 0], entry=[0, 0]).at(0, 1)[0] == 0.5


def test_who_is_last_seen_on_the_day_of_a_late_entry_was_never_at_risk() -> None:
    never = cumulative_incidence([4, 7, 7], [1, 1, 0], entry=[4, 0, 0])
    same(never, cumulative_incidence([7, 7], [1, 0], entry=[0, 0]))


def test_ignoring_late_entry_would_flatter_the_early_days() -> None:
    """Ten leads taken on at day 100 are no proof that nobody returns before day 100."""
    times, causes, entry = [50] * 5 + [200] * 10, [1] * 5 + [0] * 10, [0] * 5 + [100] * 10
    assert cumulative_incidence(times, causes).at(50, 1)[0] == pytest.approx(1 / 3)
    assert cumulative_incidence(times, causes, entry=entry).at(50, 1)[0] == 1.0
