"""What a comparison of groups says in plain words: a difference with its interval, or why none."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipeline.results.words import CANT_TELL, percent

if TYPE_CHECKING:
    from pipeline.results.figures.side_by_side import Pair, Side, SideBySide

COMPARED = (
    "Compared at the largest of 365, 180, 90 and 30 days on which each has at least ten leads "
    "still open and followed; those not known are not compared. A difference's interval is put "
    "together from the two by square-and-add. Which converts more is said only where each has at "
    "least ten engagements within those days, the interval leaves out 0, and Gray's test of the "
    "whole curves, adjusted by Holm for the number of pairs, is below 5%. Leads were not given to "
    "one or the other by lot: a difference that is there need not have been caused by it."
)
SHRUNKEN = (
    "The rate drawn together starts from the leads whose session was held at least so many days "
    "ago and estimates all groups at once: a small group, whose own rate is mostly luck, is "
    "drawn towards what they have in common, a large one hardly."
)


def compared_in_words(found: SideBySide) -> tuple[str, ...]:
    """Return what may be said of these groups, in whole sentences."""
    what, fixed = found.grouping.plural, bool(found.grouping.order)
    if len(found.names) < 2:
        return (f"Fewer than two {what} with leads so far: nothing to compare.",)
    if found.days is None:
        short = found.too_few_at_risk
        rest = len(found.names) - len(short)
        # Numbers of people are three by themselves; there are no fewer to choose.
        advice = f" Choose fewer {what} to compare the rest." if rest > 1 and not fixed else ""
        return (
            f"{_capital(CANT_TELL)}: {_listed(short)} {_has(short)} fewer than ten leads still "
            f"open and followed for 30 days.{advice}",
        )
    compared = (
        f"Compared within {found.days} days of the session, the longest time on which each has "
        "ten leads still open and followed."
    )
    if found.too_few_events:
        counts = _listed(
            [f"{side.name} {side.engaged}" for side in found.sides if side.name in _few(found)]
        )
        return (
            compared,
            f"{_capital(CANT_TELL)} which converts more: fewer than ten engagements within "
            f"{found.days} days ({counts}). Ten in each are needed.",
        )
    told = [pair for pair in found.pairs if pair.told]
    sentences = [difference_in_words(pair, found.days) for pair in told]
    open_pairs = len(found.pairs) - len(told)
    if not told:
        sentences.append(f"{_capital(CANT_TELL)} which converts more: {_what_fits(found)}.")
    elif open_pairs:
        sentences.append(f"{_capital(CANT_TELL)} for the other {_pairs(open_pairs)}.")
    return (compared, *sentences)


def difference_in_words(pair: Pair, days: int) -> str:
    """Return ``hour converts more than half within 180 days: by 5 to 24 points (…)``."""
    more, less, low, high = pair.first, pair.second, pair.low, pair.high
    if pair.difference < 0:
        more, less, low, high = pair.second, pair.first, -pair.high, -pair.low
    return (
        f"{more} converts more than {less} within {days} days: by {_points(low)} to "
        f"{_points(high)} points (95% interval)."
    )


def interval_in_words(pair: Pair) -> str:
    """Return ``+4 points (−9 to +17)``."""
    return f"{_signed(pair.difference)} points ({_signed(pair.low)} to {_signed(pair.high)})"


def luck_in_words(pair: Pair) -> str:
    """Return how often chance alone differs as much, after Holm."""
    if pair.adjusted is None:
        return CANT_TELL
    return "under 0.001" if pair.adjusted < 0.001 else f"{pair.adjusted:.3f}"


def shrunken_in_words(side: Side) -> str:
    """Return ``24% (12% to 38%)``."""
    limits = f"{percent(side.shrunken_low)} to {percent(side.shrunken_high)}"
    return f"{percent(side.shrunken)} ({limits})"


def _what_fits(found: SideBySide) -> str:
    if len(found.pairs) == 1:
        (pair,) = found.pairs
        return (
            f"anything from {_points(max(0.0, -pair.low))} points more in {pair.second} to "
            f"{_points(max(0.0, pair.high))} points more in {pair.first} fits what was seen"
        )
    widest = max(max(abs(pair.low), abs(pair.high)) for pair in found.pairs)
    return f"differences of up to {_points(widest)} points fit what was seen"


def _few(found: SideBySide) -> frozenset[str]:
    return frozenset(found.too_few_events)


def _points(share: float) -> str:
    return f"{share * 100:.0f}"


def _signed(share: float) -> str:
    points = round(share * 100)
    return f"{'+' if points > 0 else '−' if points < 0 else ''}{abs(points)}"


def _pairs(count: int) -> str:
    return "pair" if count == 1 else f"{count} pairs"


def _has(names: tuple[str, ...]) -> str:
    return "has" if len(names) == 1 else "have"


def _listed(names: list[str] | tuple[str, ...]) -> str:
    """Return ``a``, ``a and b``, ``a, b and c``."""
    *others, last = names
    return f"{', '.join(others)} and {last}" if others else last


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
