"""Where nobody is at risk and the curve has not ended there is no number, not even zero."""

import numpy as np
import pytest
from hypothesis import given

from pipeline.stats.incidence import Incidence, cumulative_incidence

from .records import Record, arrays, records


def nothing(*values: object) -> bool:
    return all(np.isnan(value).all() for value in values)


def test_beyond_the_last_follow_up() -> None:
    found = cumulative_incidence([10, 40, 90], [1, 2, 0])
    assert found.at(90, 1)[0] == pytest.approx(1 / 3)
    assert found.told_on(90)
    assert not found.told_on(91)
    assert nothing(found.at(91, 1), found.effective_interval(91, 1), found.restricted_mean(1, 91))


def test_a_curve_that_has_ended_says_the_same_for_ever() -> None:
    found = cumulative_incidence([10, 40, 90], [1, 2, 1])
    assert found.told_on(10_000)
    assert found.at(10_000, 1) == found.at(90, 1)
    assert found.effective_interval(10_000, 1) == found.effective_interval(90, 1)
    lost, _ = found.restricted_mean(1, 100)
    assert lost == pytest.approx((90 + 10) / 3)  # from day 10, and from day 90, until day 100


def test_before_anybody_is_at_risk() -> None:
    found = cumulative_incidence([30, 50], [1, 0], entry=[20, 20])
    assert nothing(found.at(20, 1))
    assert found.at(21, 1)[0] == 0.0


def test_in_a_gap_between_those_who_left_and_those_who_enter() -> None:
    found = cumulative_incidence([3, 5, 30], [1, 0, 1], entry=[0, 0, 10])
    assert found.at(5, 1)[0] == 0.5
    assert nothing(found.at(6, 1), found.at(10, 1))
    assert found.at(11, 1)[0] == 0.5


def test_the_chance_of_a_wait_that_nobody_outlived() -> None:
    found = cumulative_incidence([10, 40, 90], [1, 2, 1])
    assert nothing(found.conditional(1, 90, 10))


def test_the_chance_over_a_time_that_nobody_was_followed() -> None:
    found = cumulative_incidence([10, 40, 90, 90], [1, 2, 1, 0])
    assert found.conditional(1, 40, 50)[0] == pytest.approx(0.5)
    assert nothing(found.conditional(1, 40, 51), found.conditional(1, 90, 1))


def test_the_chance_up_to_and_beyond_the_end_of_a_curve_that_has_ended() -> None:
    found = cumulative_incidence([10, 40, 60, 90], [1, 2, 2, 1])
    assert found.conditional(1, 40, 10_000)[0] == pytest.approx(0.5)
    assert found.conditional(1, 40, 10_000) == found.conditional(1, 40, 50)


def test_the_chance_over_a_time_in_which_nothing_happened_is_zero_without_limits() -> None:
    found = cumulative_incidence([10, 40, 90, 90], [1, 2, 1, 0])
    p, se, *limits = found.conditional(1, 11, 20)
    assert (p, se) == (0.0, 0.0)
    assert nothing(limits)


def test_a_median_that_was_not_reached() -> None:
    assert cumulative_incidence([10, 40, 90], [1, 0, 0]).median(1)[0] is None


@given(records(late=True))
def test_the_estimate_is_absent_exactly_where_nobody_is_at_risk(record: Record) -> None:
    times, causes, entry = arrays(record)
    found: Incidence = cumulative_incidence(times, causes, entry=entry)
    for day in range(record.last + 3):
        reached = found.survival[found.days <= day]
        ended = reached.size > 0 and reached[-1] == 0
        absent = found.at_risk_on(day) == 0 and not ended
        assert np.isnan(found.at(day, 1)[0]) == absent
        assert np.isnan(found.effective_interval(day, 1)).any() == absent
        assert np.isnan(found.restricted_mean(1, day)[0]) == absent
