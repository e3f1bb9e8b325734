"""Gray's test and the log-rank test on published tables; each source stands in the data."""

import numpy as np
import pytest

from pipeline.stats.comparison import gray_test, logrank_test

from .checks import Check, checks, column, name, rows, times_and_causes


def labels(table: str, group: str) -> np.ndarray:
    return np.array([row[group] for row in rows(table)])


@pytest.mark.parametrize("check", checks("gray_test"), ids=name)
def test_gray(check: Check) -> None:
    given = check["input"]
    times, causes = times_and_causes(given["csv"])
    groups = labels(given["csv"], given["group"])
    if "subset" in given:
        named = given["subset"].removeprefix("groups ").removesuffix(" only").split(",")
        chosen = np.isin(groups, named)
        times, causes, groups = times[chosen], causes[chosen], groups[chosen]
        assert len(set(groups)) == 2
    for cause in (1, 2):
        expected = check["expected"][f"cause{cause}"]
        found = gray_test(times, causes, groups, cause)
        assert found.statistic == pytest.approx(expected["chisq"], abs=check["tolerance_abs"])
        assert found.p_value == pytest.approx(expected["p"], abs=check["tolerance_abs"])
        assert found.df == expected["df"]


@pytest.mark.parametrize("check", checks("logrank"), ids=name)
def test_logrank(check: Check) -> None:
    given, expected = check["input"], check["expected"]
    table = rows(given["csv"])
    if "event" in given:  # the hazard of one cause, the others censored
        assert given["event"] == "cause==1"
        events = (column(table, "cause") == 1).astype(int)
    else:
        events = column(table, "event")
    groups = labels(given["csv"], given["group"])
    found = logrank_test(column(table, "time"), events, groups)
    assert found.statistic == pytest.approx(expected["chisq"], abs=check["tolerance_abs"])
    assert found.df == expected["df"]
    if "p" in expected:
        assert found.p_value == pytest.approx(expected["p"], abs=check["tolerance_abs"])
    if "textbook_chisq" in expected:
        assert found.statistic == pytest.approx(expected["textbook_chisq"], abs=5e-3)


def test_gray_against_shuffled_groups() -> None:
    """R, 4999 permutations; 0.02 is its Monte Carlo tolerance, ours of 1500 is 0.025."""
    check = next(check for check in checks("gray_test") if check["id"] == "gray_sim54")
    times, causes = times_and_causes(check["input"]["csv"])
    groups = labels(check["input"]["csv"], check["input"]["group"])
    found = gray_test(times, causes, groups).statistic
    rng = np.random.default_rng(1)
    larger = [gray_test(times, causes, rng.permutation(groups)).statistic for _ in range(1500)]
    share = np.mean(np.array(larger) >= found - 1e-9)
    assert share == pytest.approx(check["expected"]["permutation_p_cause1"], abs=0.045)
