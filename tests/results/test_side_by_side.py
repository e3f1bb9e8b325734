"""Groups side by side: when they are compared, when a difference is told, and never a rank."""

from datetime import date, timedelta

import numpy as np
import pytest

from pipeline.results.cohort import BY_FORMAT, Cohort
from pipeline.results.comparing_words import compared_in_words
from pipeline.results.figures.conversion import conversion
from pipeline.results.figures.side_by_side import SideBySide, side_by_side
from pipeline.stats.comparison import gray_test, holm
from pipeline.stats.proportions import difference_interval
from pipeline.stats.shrinkage import hierarchical_rates
from sessions.models import Format
from tests.factories import FormatFactory

from .bulk import History, store

AS_OF = date(2026, 1, 1)


def add(team, name: str | None, *, engaged: int = 0, closed: int = 0, waiting: int = 0, ago=400):
    """So many leads of a format: engaged on day 5, closed on day 6, and open, held `ago` days."""
    fmt = FormatFactory(team=team, name=name) if name else None
    held = AS_OF - timedelta(days=ago)
    histories = [({"engaged": 5}, engaged), ({"declined": 6}, closed), ({}, waiting)]
    store(
        team,
        [
            History(held, said, session={"format": fmt})
            for said, count in histories
            for _ in range(count)
        ],
    )


def compared(team, grouping=BY_FORMAT) -> SideBySide:
    return side_by_side(conversion(Cohort(team, AS_OF), grouping))


@pytest.mark.parametrize(
    ("ago", "days"), [(400, 365), (365, 365), (364, 180), (179, 90), (89, 30), (29, None)]
)
def test_they_are_compared_at_the_largest_time_with_ten_at_risk_in_each(cast, ago, days):
    add(cast.team, "half", engaged=3, waiting=10)
    add(cast.team, "hour", engaged=3, waiting=10, ago=ago)
    assert compared(cast.team).days == days


def test_nine_at_risk_in_one_of_them_are_too_few(cast):
    add(cast.team, "half", engaged=30, waiting=30)
    add(cast.team, "hour", engaged=30, waiting=9)
    found = compared(cast.team)
    assert (found.days, found.sides, found.pairs) == (None, (), ())
    assert found.too_few_at_risk == ("hour",)
    assert compared_in_words(found) == (
        "Can't tell yet: hour has fewer than ten leads still open and followed for 30 days.",
    )


def test_where_others_could_be_compared_it_says_how(cast):
    for name, waiting in (("half", 30), ("hour", 30), ("walk", 9)):
        add(cast.team, name, engaged=30, waiting=waiting)
    assert compared_in_words(compared(cast.team)) == (
        "Can't tell yet: walk has fewer than ten leads still open and followed for 30 days. "
        "Choose fewer formats to compare the rest.",
    )


def test_one_group_alone_is_compared_with_nothing(cast):
    add(cast.team, "hour", engaged=30, waiting=30)
    found = compared(cast.team)
    assert (found.days, found.sides) == (None, ())
    assert compared_in_words(found) == (
        "Fewer than two formats with leads so far: nothing to compare.",
    )


def test_leads_whose_format_is_not_known_are_not_compared(cast):
    for name in ("half", "hour", None):
        add(cast.team, name, engaged=3, waiting=1 if name is None else 10)
    found = compared(cast.team)
    assert found.days == 365
    assert [side.name for side in found.sides] == ["half", "hour"]


def test_below_ten_engagements_in_any_group_nothing_is_put_in_order(cast):
    """Forty of fifty against nine of fifty is a large difference; nine events are too few."""
    add(cast.team, "half", engaged=40, waiting=10)
    add(cast.team, "hour", engaged=9, waiting=41)
    found = compared(cast.team)
    assert found.too_few_events == ("hour",)
    assert not found.can_order
    assert not any(pair.told for pair in found.pairs)
    (pair,) = found.pairs
    assert pair.adjusted < 0.001
    assert compared_in_words(found)[1] == (
        "Can't tell yet which converts more: fewer than ten engagements within 365 days (hour 9). "
        "Ten in each are needed."
    )


def test_engagements_after_the_common_time_do_not_count_as_events(cast):
    add(cast.team, "half", engaged=12, waiting=20, ago=100)
    fmt = FormatFactory(team=cast.team, name="hour")
    held = AS_OF - timedelta(days=100)
    late = [History(held, {"engaged": 95}, session={"format": fmt}) for _ in range(12)]
    store(cast.team, [*late, *(History(held, session={"format": fmt}) for _ in range(20))])
    found = compared(cast.team)
    assert found.days == 90
    assert [(side.name, side.engaged) for side in found.sides] == [("half", 12), ("hour", 0)]
    assert found.too_few_events == ("hour",)


def test_a_difference_is_told_with_its_interval_in_plain_words(cast):
    """32 of 50 and 12 of 50, nobody censored before: Newcombe's method 10 of the counts."""
    add(cast.team, "half", engaged=12, waiting=38)
    add(cast.team, "hour", engaged=32, waiting=18)
    found = compared(cast.team)
    (pair,) = found.pairs
    difference, low, high = difference_interval(12, 50, 32, 50)
    assert (pair.difference, pair.low, pair.high) == pytest.approx(
        (difference, low, high), abs=1e-12
    )
    assert pair.told
    assert compared_in_words(found) == (
        "Compared within 365 days of the session, the longest time on which each has ten leads "
        "still open and followed.",
        f"hour converts more than half within 365 days: by {-high * 100:.0f} to "
        f"{-low * 100:.0f} points (95% interval).",
    )


def test_where_the_interval_holds_0_it_says_what_fits(cast):
    add(cast.team, "half", engaged=20, waiting=30)
    add(cast.team, "hour", engaged=22, waiting=28)
    found = compared(cast.team)
    assert not found.pairs[0].told
    _, low, high = difference_interval(20, 50, 22, 50)
    assert compared_in_words(found)[1] == (
        f"Can't tell yet which converts more: anything from {-low * 100:.0f} points more in hour "
        f"to {high * 100:.0f} points more in half fits what was seen."
    )


def test_the_more_pairs_the_more_each_has_to_show(cast):
    """Gray's test of the arrays, pair by pair, and Holm over all three."""
    for name, engaged in (("a", 12), ("b", 22), ("c", 24)):
        add(cast.team, name, engaged=engaged, closed=4, waiting=26)
    found = compared(cast.team)

    def leads(engaged):
        times = [5] * engaged + [6] * 4 + [400] * 26
        return times, [1] * engaged + [2] * 4 + [0] * 26

    p_values = []
    for one, other in ((12, 22), (12, 24), (22, 24)):
        (first, first_why), (second, second_why) = leads(one), leads(other)
        groups = np.repeat([0, 1], [len(first), len(second)])
        p_values.append(gray_test(first + second, first_why + second_why, groups).p_value)
    assert [pair.p_value for pair in found.pairs] == pytest.approx(p_values, abs=1e-12)
    assert [pair.adjusted for pair in found.pairs] == pytest.approx(
        list(holm(p_values)), abs=1e-12
    )
    assert [(pair.first, pair.second) for pair in found.pairs] == [
        ("a", "b"), ("a", "c"), ("b", "c")
    ]  # fmt: skip
    assert [pair.told for pair in found.pairs] == [value < 0.05 for value in holm(p_values)]


def test_groups_in_which_nothing_happened_have_no_p_value(cast):
    for name in ("half", "hour"):
        add(cast.team, name, waiting=20)
    (pair,) = compared(cast.team).pairs
    assert (pair.difference, pair.p_value, pair.adjusted, pair.told) == (0.0, None, None, False)


def test_the_drawn_together_rates_are_those_of_leads_followed_so_long(cast):
    """Of 60, of which 20 were held only 100 days ago: 40 followed for 365 days, 10 engaged."""
    add(cast.team, "half", engaged=10, waiting=30)
    half = Format.objects.get(team=cast.team, name="half")
    held = AS_OF - timedelta(days=100)
    store(
        cast.team,
        [History(held, {"engaged": 5}, session={"format": half}) for _ in range(20)],
    )
    add(cast.team, "hour", engaged=3, waiting=12)
    found = compared(cast.team)
    assert [(side.followed, side.followed_engaged) for side in found.sides] == [(40, 10), (15, 3)]
    drawn = hierarchical_rates([10, 3], [40, 15])
    assert [side.shrunken for side in found.sides] == pytest.approx(list(drawn.mean), abs=1e-12)
    assert [side.shrunken_low for side in found.sides] == pytest.approx(list(drawn.low), abs=1e-12)
    small = found.sides[1]
    assert abs(small.shrunken - 10 / 40) < abs(3 / 15 - 10 / 40)


def test_groups_stand_in_order_of_name_whatever_they_convert(cast):
    for name, engaged in (("c", 12), ("a", 20), ("b", 30)):
        add(cast.team, name, engaged=engaged, waiting=20)
    found = compared(cast.team)
    assert [side.name for side in found.sides] == ["a", "b", "c"]
