"""Wilson 1927 and Newcombe 1998: the published intervals; each source stands in the data."""

import pytest

from pipeline.stats.proportions import difference_interval, wilson_interval

from .checks import Check, checks, name


@pytest.mark.parametrize("check", checks("wilson_interval"), ids=name)
def test_wilson_intervals_are_the_published_ones(check: Check) -> None:
    x, n = check["input"]["x"], check["input"]["n"]
    expected, tolerance = check["expected"], check["tolerance_abs"]
    assert check["input"]["conf"] == [0.95, 0.9]
    assert wilson_interval(x, n) == pytest.approx(expected["ci95"], abs=tolerance)
    assert wilson_interval(x, n, 0.9) == pytest.approx(expected["ci90"], abs=tolerance)
    if expected["published95_4dp"]:
        assert wilson_interval(x, n) == pytest.approx(expected["published95_4dp"], abs=5e-5)


@pytest.mark.parametrize("check", checks("newcombe_difference"), ids=name)
def test_differences_are_the_published_ones(check: Check) -> None:
    given, expected = check["input"], check["expected"]
    difference, low, high = difference_interval(given["x1"], given["n1"], given["x2"], given["n2"])
    assert difference == pytest.approx(expected["diff"], abs=check["tolerance_abs"])
    assert (low, high) == pytest.approx(expected["ci95"], abs=check["tolerance_abs"])
    if expected["published_4dp"]:
        assert (low, high) == pytest.approx(expected["published_4dp"], abs=5e-5)
