"""Bad input is refused in words that begin with the argument's name."""

import re
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from pipeline.stats.comparison import gray_test, holm, logrank_test
from pipeline.stats.forecast import expected_returns, poisson_binomial
from pipeline.stats.incidence import cumulative_incidence, from_counts
from pipeline.stats.proportions import difference_interval, wilson_interval
from pipeline.stats.shrinkage import hierarchical_rates

nan = float("nan")
CURVE = cumulative_incidence([1, 2, 3], [1, 2, 0])


def forecast(**changes: Any) -> object:
    given = {"times": [1, 2], "causes": [1, 0], "ages": [2], "horizon": 3, "draws": 5, "seed": 1}
    return expected_returns(**(given | changes))


REFUSED: list[tuple[str, Callable[[], object]]] = [
    ("successes: -1 is less than 0", lambda: wilson_interval(-1, 5)),
    ("successes: 6 is more than trials, 5", lambda: wilson_interval(6, 5)),
    ("successes: 2.5 is not a whole number", lambda: wilson_interval(2.5, 5)),  # type: ignore[arg-type]
    ("successes: nan is not a whole number", lambda: wilson_interval(nan, 5)),  # type: ignore[arg-type]
    ("successes: one number is needed", lambda: wilson_interval("3", 5)),  # type: ignore[arg-type]
    ("trials: 0 is less than 1", lambda: wilson_interval(0, 0)),
    ("trials: inf is not a whole number", lambda: wilson_interval(0, float("inf"))),  # type: ignore[arg-type]
    ("level: 1 is not between 0 and 1", lambda: wilson_interval(1, 5, 1)),
    ("level: 0 is not between 0 and 1", lambda: wilson_interval(1, 5, 0)),
    ("level: 95 is not between 0 and 1", lambda: wilson_interval(1, 5, 95)),
    ("level: nan is not between 0 and 1", lambda: wilson_interval(1, 5, nan)),
    ("x1: 4 is more than n1, 3", lambda: difference_interval(4, 3, 1, 2)),
    ("x2: 3 is more than n2, 2", lambda: difference_interval(1, 3, 3, 2)),
    ("n2: 0 is less than 1", lambda: difference_interval(1, 3, 0, 0)),
    ("level: -0.5", lambda: difference_interval(1, 3, 1, 2, -0.5)),
    ("times: -2 at position 1 is negative", lambda: cumulative_incidence([1, -2], [0, 1])),
    ("times: nan at position 0 is not a number", lambda: cumulative_incidence([nan, 2], [0, 1])),
    ("times: 1.5 at position 0 is not whole", lambda: cumulative_incidence([1.5, 2], [0, 1])),
    ("times: inf at position 1 is too large", lambda: cumulative_incidence([1, np.inf], [0, 1])),
    ("times: 1e+300 at position 0 is too large", lambda: cumulative_incidence([1e300], [0])),
    ("times: -inf at position 0 is not whole", lambda: cumulative_incidence([-np.inf], [0])),
    ("times: 18446744073709551615 at position 0", lambda: cumulative_incidence([2**64 - 1], [0])),
    ("times: numbers are needed", lambda: cumulative_incidence(["1"], [0])),
    ("times: one row of numbers is needed", lambda: cumulative_incidence([[1, 2]], [0, 1])),
    (
        "times: its rows are of different lengths",
        lambda: cumulative_incidence([[1, 2], [3]], [0, 1]),
    ),
    ("causes: 1 values, but times has 2", lambda: cumulative_incidence([1, 2], [1])),
    ("causes: -1 at position 0 is negative", lambda: cumulative_incidence([1], [-1])),
    ("causes: 0.5 at position 0 is not whole", lambda: cumulative_incidence([1], [0.5])),
    ("causes: 100 at position 0 is no cause", lambda: cumulative_incidence([1], [100])),
    ("entry: -1 at position 0", lambda: cumulative_incidence([1], [0], entry=[-1])),
    ("entry: 2 values, but times has 1", lambda: cumulative_incidence([1], [0], entry=[0, 0])),
    (
        "entry: 5 at position 1 is after the last day, 4",
        lambda: cumulative_incidence([3, 4], [0, 1], entry=[0, 5]),
    ),
    ("level: 1.5", lambda: cumulative_incidence([1], [0], level=1.5)),
    ("days: -1 at position 0", lambda: from_counts([-1], [1], [1])),
    ("exits: -1 at position 0", lambda: from_counts([1], [-1], [1])),
    ("exits: 2 values, but days has 1", lambda: from_counts([1], [1, 1], [1])),
    ("events: 3 on day 7, but 2 leave", lambda: from_counts([7], [2], [[1], [2]])),
    ("events: a row of 1 is needed a cause", lambda: from_counts([1], [1], [[1, 0]])),
    (
        "events: its rows are of different lengths",
        lambda: from_counts([1, 2], [1, 1], [[1, 0], [0]]),
    ),
    ("events: nan at position 0", lambda: from_counts([1], [1], [nan])),
    ("entries: 3 enter, but 2 leave", lambda: from_counts([0, 5], [0, 2], [0, 1], [3, 0])),
    ("entries: 1 values, but days has 2", lambda: from_counts([0, 5], [0, 2], [0, 1], [2])),
    (
        "exits: 2 on day 5, but 1 are at risk",
        lambda: from_counts([0, 5], [0, 2], [0, 1], [1, 1]),
    ),
    ("level: 0 ", lambda: from_counts([1], [1], [1], level=0)),
    ("cause: 3 is unknown, there are 1 to 2", lambda: CURVE.at(1, 3)),
    ("cause: 0 is unknown", lambda: CURVE.effective_interval(1, 0)),
    ("cause: -1 is less than 0", lambda: CURVE.restricted_mean(-1, 5)),
    ("day: -1 is less than 0", lambda: CURVE.at(-1, 1)),
    ("day: 0.5 is not a whole number", lambda: CURVE.effective_interval(0.5, 1)),  # type: ignore[arg-type]
    ("day: nan is not a whole number", lambda: CURVE.at_risk_on(nan)),  # type: ignore[arg-type]
    ("age: -3 is less than 0", lambda: CURVE.conditional(1, -3, 5)),
    ("horizon: -1 is less than 0", lambda: CURVE.conditional(1, 3, -1)),
    ("until: -1 is less than 0", lambda: CURVE.restricted_mean(1, -1)),
    ("times: -1 at position 0", lambda: gray_test([-1, 2], [1, 1], "ab")),
    ("groups: one row of labels", lambda: gray_test([1, 2], [1, 1], "ab")),
    ("groups: at least two groups", lambda: gray_test([1, 2], [1, 1], ["a", "a"])),
    ("groups: at least two groups", lambda: logrank_test([], [], [])),
    ("groups: nan at position 1", lambda: gray_test([1, 2], [1, 1], [1.0, nan])),
    ("groups: nan at position 1", lambda: gray_test([1, 2], [1, 1], [None, nan])),
    ("groups: 3 values, but times has 2", lambda: gray_test([1, 2], [1, 1], [1, 2, 2])),
    ("causes: 1 values", lambda: gray_test([1, 2], [1], [1, 2])),
    ("cause: 0 is less than 1", lambda: gray_test([1, 2], [1, 1], [1, 2], cause=0)),
    (
        "cause: 3 is unknown, there are 1 to 2",
        lambda: gray_test([1, 2], [1, 2], [1, 2], cause=3),
    ),
    ("events: 2 at position 1", lambda: logrank_test([1, 2], [1, 2], [1, 2])),
    ("events: nan at position 0", lambda: logrank_test([1, 2], [nan, 1], [1, 2])),
    ("p_values: nan at position 1", lambda: holm([0.1, nan])),
    ("p_values: 1.2 at position 0", lambda: holm([1.2])),
    ("p_values: its rows are of different lengths", lambda: holm([[0.1], [0.1, 0.2]])),  # type: ignore[arg-type]
    ("p_values: one row", lambda: holm([[0.1]])),
    ("successes: 4 at position 1 is more than 3", lambda: hierarchical_rates([1, 4], [3, 3])),
    ("successes: -1 at position 0", lambda: hierarchical_rates([-1], [3])),
    ("trials: 1 values, but successes has 2", lambda: hierarchical_rates([1, 1], [3])),
    ("trials: nan at position 0", lambda: hierarchical_rates([1], [nan])),
    ("level: 2", lambda: hierarchical_rates([1], [3], level=2)),
    ("p: -0.1 at position 0", lambda: poisson_binomial([-0.1, 0.5])),
    ("p: nan at position 0", lambda: poisson_binomial([nan])),
    ("times: -1 at position 0", lambda: forecast(times=[-1, 2])),
    ("causes: 1 values, but times has 2", lambda: forecast(causes=[1])),
    ("ages: -1 at position 0", lambda: forecast(ages=[-1])),
    ("ages: nan at position 0", lambda: forecast(ages=[nan])),
    ("horizon: -1 is less than 0", lambda: forecast(horizon=-1)),
    ("cause: 0 is less than 1", lambda: forecast(cause=0)),
    ("cause: 2 is unknown, there are 1 to 1", lambda: forecast(cause=2)),
    ("entry: 3 at position 0 is after the last day, 1", lambda: forecast(entry=[3, 0])),
    ("level: 1 ", lambda: forecast(level=1)),
    ("draws: 0 is less than 1", lambda: forecast(draws=0)),
    ("seed: -1 is less than 0", lambda: forecast(seed=-1)),
]


@pytest.mark.parametrize(("text", "call"), REFUSED, ids=[text for text, _ in REFUSED])
def test_the_argument_and_the_fault_are_named(text: str, call: Callable[[], object]) -> None:
    with pytest.raises(ValueError, match="^" + re.escape(text)):
        call()


def test_whole_numbers_may_come_as_floats_and_truths() -> None:
    found = cumulative_incidence([1.0, 2.0, 3.0], np.array([True, False, True]))
    assert found.days.tolist() == [1, 2, 3]
    assert found.events.tolist() == [[1, 0, 1]]


def test_the_input_is_left_as_it_was() -> None:
    times, causes, entry = np.array([5, 2, 5]), np.array([1, 0, 2]), np.array([0, 2, 3])
    kept = times.copy(), causes.copy(), entry.copy()
    cumulative_incidence(times, causes, entry=entry)
    expected_returns(times, causes, [1], 3, entry=entry, draws=3, seed=1)
    gray_test(times, causes, entry)
    assert all((now == then).all() for now, then in zip((times, causes, entry), kept, strict=True))
