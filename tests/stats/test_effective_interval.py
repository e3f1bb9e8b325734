"""Wilson's interval at the size that the censored record is worth."""

import numpy as np
import pytest
from hypothesis import given

from pipeline.stats.incidence import cumulative_incidence
from pipeline.stats.proportions import wilson_interval

from .records import Record, arrays, records


@given(records(censored=False))
def test_without_censoring_it_is_wilsons(record: Record) -> None:
    times, causes, _ = arrays(record)
    found = cumulative_incidence(times, causes)
    for day in range(record.last + 2):
        for cause in range(1, len(found.events) + 1):
            by_then = int(((times <= day) & (causes == cause)).sum())
            expected = wilson_interval(by_then, len(times))
            assert found.effective_interval(day, cause) == pytest.approx(expected, abs=1e-10)


@given(records(late=True))
def test_it_holds_the_estimate_and_stays_between_0_and_1(record: Record) -> None:
    times, causes, entry = arrays(record)
    found = cumulative_incidence(times, causes, entry=entry)
    for day in found.days:
        estimate = found.at(int(day), 1)[0]
        low, high = found.effective_interval(int(day), 1)
        assert 0 <= low <= estimate + 1e-12
        assert estimate - 1e-12 <= high <= 1
        assert low < high


def test_at_zero_the_size_is_those_at_risk_over_the_survival_just_before() -> None:
    # Ten leads, four closed on day 2, two lost on day 3: four at risk on day 5, of survival 0.6.
    found = cumulative_incidence([2] * 4 + [3] * 2 + [5] * 4, [2] * 4 + [0] * 6)
    size = 4 / 0.6
    z = 1.959963984540054
    assert found.effective_interval(5, 1) == pytest.approx((0, z * z / (size + z * z)))


def test_at_one_the_size_is_the_number_of_events() -> None:
    found = cumulative_incidence([1, 2, 2, 3], [1, 0, 1, 1])
    assert found.at(3, 1)[0] == 1.0
    assert found.effective_interval(3, 1) == pytest.approx(wilson_interval(3, 3))


def test_the_level_is_the_curves() -> None:
    found = cumulative_incidence([1, 2, 3], [1, 1, 2], level=0.8)
    assert found.effective_interval(3, 1) == pytest.approx(wilson_interval(2, 3, 0.8))
    assert not np.isnan(found.effective_interval(0, 1)).any()
