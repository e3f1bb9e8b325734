"""Small change of every sentence: counts, lists of names, limits, points, days."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from pipeline.results.words import CANT_TELL, percent
from pipeline.teams import money


def count(number: int, one: str, many: str = "") -> str:
    """Return ``1 lead`` or ``1,200 leads``."""
    return f"{number:,} {one if number == 1 else many or one + 's'}"


def are(number: int) -> str:
    """Return ``is`` or ``are``."""
    return "is" if number == 1 else "are"


def were(number: int) -> str:
    """Return ``was`` or ``were``."""
    return "was" if number == 1 else "were"


def have(number: int) -> str:
    """Return ``has`` or ``have``."""
    return "has" if number == 1 else "have"


def wait(number: int) -> str:
    """Return ``waits`` or ``wait``."""
    return "waits" if number == 1 else "wait"


def listed(names: Sequence[str], last: str = "and") -> str:
    """Return ``a, b and c``."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} {last} {names[-1]}"


def share(value: float | None) -> str:
    """Return ``28%``, or that it can't be told."""
    return CANT_TELL if value is None else percent(value)


def between(low: float | None, high: float | None) -> str:
    """Return ``16% to 43%``, or that it can't be told."""
    if low is None or high is None:
        return CANT_TELL
    return f"{percent(low)} to {percent(high)}"


def days(value: float | None) -> str:
    """Return ``90 days``, or that it can't be told."""
    return CANT_TELL if value is None else count(round(value), "day")


def days_between(low: float | None, high: float | None) -> str:
    """Return ``40 to 200 days``; an end that is not reached is open."""
    if low is None:
        return CANT_TELL
    return f"{low:,.0f} days or more" if high is None else f"{low:,.0f} to {high:,.0f} days"


def amounts(sums: Sequence[tuple[str, Decimal]]) -> str:
    """Return ``1,200.00 CAD and 300.00 EUR``: each currency by itself."""
    return listed([money.show(amount, currency) for currency, amount in sums])
