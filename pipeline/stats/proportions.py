"""Shares of a count, and the difference of two of them, with intervals that hold when small."""

from math import sqrt

from pipeline.stats.arguments import normal_quantile, whole_number


def wilson_interval(successes: int, trials: int, level: float = 0.95) -> tuple[float, float]:
    """The score interval of a share, without continuity correction.

    Both limits lie in [0, 1]; the lower is exactly 0 where nothing succeeded and the upper
    exactly 1 where everything did.

    Raises `ValueError` for counts that are negative or not whole, for no trials at all, for more
    successes than trials, and for a level outside (0, 1).

    Source: Wilson EB, J Am Stat Assoc 1927;22:209-212; method 3 of Newcombe RG, Stat Med
    1998;17:857-872.
    """
    z = normal_quantile(level)
    successes, trials = _share("successes", successes, "trials", trials)
    return score_limits(successes / trials, trials, z)


def difference_interval(
    x1: int, n1: int, x2: int, n2: int, level: float = 0.95
) -> tuple[float, float, float]:
    """The difference x1/n1 - x2/n2 of two independent shares, with its interval.

    Raises `ValueError` as `wilson_interval` does, naming `x1`, `n1`, `x2`, `n2` or `level`.

    Source: method 10 of Newcombe RG, Stat Med 1998;17:873-890: the two Wilson intervals, put
    together by `square_and_add`.
    """
    z = normal_quantile(level)
    x1, n1 = _share("x1", x1, "n1", n1)
    x2, n2 = _share("x2", x2, "n2", n2)
    first, second = x1 / n1, x2 / n2
    return square_and_add(first, score_limits(first, n1, z), second, score_limits(second, n2, z))


def square_and_add(
    first: float,
    first_limits: tuple[float, float],
    second: float,
    second_limits: tuple[float, float],
) -> tuple[float, float, float]:
    """The difference of two independent estimates, its interval made from theirs.

    Each limit's distance from the difference is the root of the squared distances of the two
    limits that push it that way. The limits may come from any interval, so it serves incidences
    with effective sizes as well as plain shares.

    Source: Newcombe RG, Stat Med 1998;17:873-890, the step that makes method 10 from method 3.
    """
    low1, high1 = first_limits
    low2, high2 = second_limits
    difference = first - second
    low = difference - sqrt((first - low1) ** 2 + (high2 - second) ** 2)
    high = difference + sqrt((high1 - first) ** 2 + (second - low2) ** 2)
    return difference, low, high


def score_limits(share: float, size: float, z: float) -> tuple[float, float]:
    """Wilson's limits for a share of a size that need not be whole."""
    spread = z * z / size
    centre = (share + spread / 2) / (1 + spread)
    half = sqrt(share * (1 - share) * spread + spread * spread / 4) / (1 + spread)
    low = 0.0 if share <= 0 else max(0.0, centre - half)
    high = 1.0 if share >= 1 else min(1.0, centre + half)
    return low, high


def _share(part_name: str, part: int, whole_name: str, whole: int) -> tuple[int, int]:
    whole = whole_number(whole_name, whole, least=1)
    part = whole_number(part_name, part)
    if part > whole:
        raise ValueError(f"{part_name}: {part} is more than {whole_name}, {whole}")
    return part, whole
