"""Curves from the literature and from R; each value's source stands in the data."""

from fractions import Fraction

import numpy as np
import pytest

from pipeline.stats.incidence import Incidence, cumulative_incidence
from pipeline.stats.proportions import wilson_interval

from .checks import Check, checks, column, name, rows, times_and_causes


def close(value: object, expected: object, check: Check) -> bool:
    return value == pytest.approx(expected, abs=check["tolerance_abs"])


def curve(check: Check) -> Incidence:
    given = check["input"]
    times, causes = times_and_causes(given["csv"], **(given.get("filter") or {}))
    return cumulative_incidence(times, causes)


@pytest.mark.parametrize("check", checks("kaplan_meier"), ids=name)
def test_one_cause_is_kaplan_meier(check: Check) -> None:
    found, expected = curve(check), check["expected"]
    days = check["input"]["t"]
    estimates = [found.at(day, 1) for day in days]
    errors = expected.get("greenwood_se") or expected["se"]
    assert close([1 - estimate for estimate, *_ in estimates], expected["S"], check)
    for (estimate, se, low, high), error in zip(estimates, errors, strict=True):
        if error is None:  # nobody is left: R shows no error, ours is 0 and the limits are absent
            assert estimate == 1
            assert se == 0
            assert np.isnan([low, high]).all()
        else:
            assert close(se, error, check)
    assert found.median(1)[0] == expected["median"]
    if "n_at_risk" in expected:
        assert [found.at_risk_on(day) for day in days] == expected["n_at_risk"]
    for (estimate, *_), share in zip(estimates, expected.get("S_fraction", []), strict=False):
        assert 1 - estimate == pytest.approx(float(Fraction(share)), abs=1e-15)
    for (estimate, se, *_), published, error in zip(
        estimates,
        expected.get("textbook_S_3dp", []),
        expected.get("textbook_se_4dp", []),
        strict=False,
    ):
        assert 1 - estimate == pytest.approx(published, abs=5.1e-4)
        assert se == pytest.approx(error, abs=5.1e-5)


@pytest.mark.parametrize("check", checks("aalen_johansen"), ids=name)
def test_competing_causes_are_aalen_johansen(check: Check) -> None:
    if "group" in check["input"]:
        for expected in check["expected"]:
            column_name, group = expected["strata"].split("=")
            times, causes = times_and_causes(check["input"]["csv"], **{column_name: group})
            found = cumulative_incidence(times, causes)
            values = [expected[key] for key in ("F1", "se", "lo", "hi")]
            assert close(found.at(expected["t"], 1), values, check)
        return
    found, expected = curve(check), check["expected"]
    for index, day in enumerate(check["input"]["t"]):
        first, second = found.at(day, 1), found.at(day, 2)
        assert close(first[0], expected["F1"][index], check)
        assert close(second[0], expected["F2"][index], check)
        assert close(first[1], expected["se1"][index], check)
        assert close(second[1], expected["se2"][index], check)
        assert close(1 - first[0] - second[0], expected["S"][index], check)
        if "n_at_risk" in expected:
            assert found.at_risk_on(day) == expected["n_at_risk"][index]
        if "ci95_F1_loglog" in expected:
            assert close(first[2:], expected["ci95_F1_loglog"][index], check)
    exact(found, expected.get("fractions", []))


def exact(found: Incidence, fractions: list[dict[str, object]]) -> None:
    for expected in fractions:
        day = expected["t"]
        position = int(np.searchsorted(found.days, day))
        assert found.days[position] == day
        assert found.at_risk[position] == expected["Y"]
        assert list(found.events[:, position]) == expected["d"]
        shares = [found.survival[position], *found.incidence[:, position]]
        wanted = [float(Fraction(str(expected[key]))) for key in ("S", "F1", "F2")]
        assert shares == pytest.approx(wanted, abs=1e-15)


@pytest.mark.parametrize("check", checks("aalen_johansen_delayed_entry"), ids=name)
def test_late_entry_is_left_truncation(check: Check) -> None:
    table, expected = rows(check["input"]["csv"]), check["expected"]
    entry = column(table, "entry")
    times, causes = column(table, "time"), column(table, "cause")
    found = cumulative_incidence(times, causes, entry=entry)
    together = cumulative_incidence(times, np.minimum(causes, 1), entry=entry)
    ignored = cumulative_incidence(times, causes)
    for index, day in enumerate(check["input"]["t"]):
        first, second, either = found.at(day, 1), found.at(day, 2), together.at(day, 1)
        assert close(first[:2], [expected["F1"][index], expected["se1"][index]], check)
        assert close(second[:2], [expected["F2"][index], expected["se2"][index]], check)
        assert close(1 - either[0], expected["S"][index], check)
        assert close(either[1], expected["se_S"][index], check)
        assert close(ignored.at(day, 1)[0], expected["F1_if_truncation_ignored"][index], check)
    exact(found, expected["fractions"])


@pytest.mark.parametrize("check", checks("conditional_probability"), ids=name)
def test_the_chance_of_those_still_waiting(check: Check) -> None:
    found, given, expected = curve(check), check["input"], check["expected"]
    p, se, low, high = found.conditional(1, given["t"], given["h"])
    assert close([p, se], [expected["p"], expected["se"]], check)
    limits = expected.get("ci95") or expected["ci95_loglog"]
    assert close([low, high], limits, check)
    # n_waiting counts those who stay beyond the day, so who is at risk on the next.
    assert found.at_risk_on(given["t"] + 1) == expected["n_waiting"]
    if "p_competing" in expected:
        assert close(
            found.conditional(2, given["t"], given["h"])[0], expected["p_competing"], check
        )


@pytest.mark.parametrize("check", checks("restricted_mean"), ids=name)
def test_the_mean_time_waiting_is_what_is_not_lost(check: Check) -> None:
    until, expected = check["input"]["tau"], check["expected"]
    for group, label in (("6-MP", "6mp"), ("control", "control")):
        times, events = times_and_causes(check["input"]["csv"], treat=group)
        lost, se = cumulative_incidence(times, events).restricted_mean(1, until)
        assert close(until - lost, expected[f"mean_{label}"], check)
        assert close(se, expected[f"se_{label}"], check)


@pytest.mark.parametrize("check", checks("restricted_mean_time"), ids=name)
def test_the_mean_time_lost_to_each_cause(check: Check) -> None:
    until, expected = check["input"]["tau"], check["expected"]
    times, causes = times_and_causes(check["input"]["csv"])
    found = cumulative_incidence(times, causes)
    for cause in (1, 2):
        lost = [expected[f"time_lost_cause{cause}"], expected[f"se{cause}"]]
        assert close(found.restricted_mean(cause, until), lost, check)
    lost, se = cumulative_incidence(times, np.minimum(causes, 1)).restricted_mean(1, until)
    assert close([until - lost, se], [expected["mean_waiting"], expected["se_waiting"]], check)


@pytest.mark.parametrize("check", checks("cif_interval_neff_wilson"), ids=name)
def test_the_interval_at_the_effective_size(check: Check) -> None:
    """Own formula only: no second library has it. Without censoring it is Wilson's."""
    found = curve(check)
    for expected in check["expected"]:
        estimate, se, _, _ = found.at(expected["t"], 1)
        assert close([estimate, se], [expected["F"], expected["se"]], check)
        assert estimate * (1 - estimate) / se**2 == pytest.approx(expected["n_eff"], abs=1e-6)
        assert close(found.effective_interval(expected["t"], 1), expected["ci95"], check)
    times = [1, 1, 2, 3, 4, 4, 5]
    plain = cumulative_incidence(times, [1, 2, 1, 1, 2, 1, 2])
    assert plain.effective_interval(3, 1) == pytest.approx(wilson_interval(3, 7), abs=1e-14)
