"""Formats, sources and numbers of people side by side: dots and intervals, never a rank."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from pipeline.results import comparing_words, words
from pipeline.results.charts.marks import Mark, Marks, side_by_side
from pipeline.results.charts.scale import points_label, share_label, share_values
from pipeline.results.cohort import BY_ATTENDEES, BY_SOURCE, Cohort
from pipeline.results.exhibits.exhibit import Data, Exhibit, Row, Table, Value
from pipeline.results.exhibits.saying import share
from pipeline.results.figures import side_by_side as comparing
from pipeline.results.figures.conversion import Conversion, Group, conversion
from pipeline.results.figures.side_by_side import SideBySide

TITLES = {
    "formats": "Formats side by side",
    "sources": "Sources side by side",
    "attendees": "By how many people came",
    "crew": "By facilitator",
}


def exhibits(cohort: Cohort, asked: Mapping[str, str]) -> list[Exhibit]:
    """Return the page's figures; none where no lead counts."""
    shown: list[Exhibit] = []
    for grouping in (cohort.by_format, BY_SOURCE, BY_ATTENDEES):
        found = conversion(cohort, grouping)
        if found.groups:
            shown += compared(found)
    return shown


def compared(found: Conversion, comparison: SideBySide | None = None) -> list[Exhibit]:
    """The groups side by side, and where they can be compared their differences."""
    comparison = comparison or comparing.side_by_side(found)
    shown = [_groups(found, comparison)]
    if comparison.pairs:
        shown.append(_differences(comparison))
    return shown


def _groups(found: Conversion, comparison: SideBySide) -> Exhibit:
    key, nameless = found.grouping.key, found.grouping.nameless
    title = TITLES[key]
    tables = [
        Table(
            "So far",
            (found.grouping.heading, "Conversion", "95% interval", "Open", "Closed", "Reopened"),
            tuple(
                Row(
                    (
                        group.name or nameless,
                        f"{words.rate_in_words(group.conversion)} "
                        f"({words.engaged_in_words(group)})",
                        words.limits_in_words(group.conversion),
                        f"{group.open:,}",
                        f"{group.closed:,}",
                        f"{group.reopened:,}",
                    )
                )
                for group in found.groups
            ),
        )
    ]
    rules = [words.CONVERSION]
    if comparison.days is not None:
        tables.insert(0, _sides(comparison))
        rules = [comparing_words.COMPARED, comparing_words.SHRUNKEN, words.CONVERSION]
    return Exhibit(
        name=key,
        title=title,
        said=comparing_words.compared_in_words(comparison),
        chart=_within(title, comparison) if comparison.sides else _so_far(title, found),
        tables=tuple(tables),
        data=_data(found.groups, comparison),
        rules=(words.WHO_COUNTS, *rules),
    )


def _sides(comparison: SideBySide) -> Table:
    return Table(
        f"Within {comparison.days} days of the session",
        (
            comparison.grouping.heading,
            "Engaged",
            "95% interval",
            "Seen to engage",
            "At risk",
            "Drawn together",
        ),
        tuple(
            Row(
                (
                    side.name,
                    share(side.raw.estimate),
                    words.return_limits_in_words(side.raw),
                    f"{side.engaged:,}",
                    f"{side.raw.at_risk:,}",
                    comparing_words.shrunken_in_words(side),
                )
            )
            for side in comparison.sides
        ),
    )


def _within(title: str, comparison: SideBySide) -> Marks:
    marks = [
        Mark(
            side.name,
            f"{side.engaged} engaged",
            side.raw.estimate,
            side.raw.low,
            side.raw.high,
            side.shrunken,
        )
        for side in comparison.sides
    ]
    told = " ".join(
        f"{side.name}: {share(side.raw.estimate)}, {words.return_limits_in_words(side.raw)}; "
        f"drawn together {comparing_words.shrunken_in_words(side)}."
        for side in comparison.sides
    )
    return _marks(comparison.grouping.key, title, f"within {comparison.days} days", marks, told)


def _so_far(title: str, found: Conversion) -> Marks:
    marks = [
        Mark(
            group.name or found.grouping.nameless,
            f"{group.engaged} of {group.leads_with_session}",
            group.conversion.estimate,
            group.conversion.low,
            group.conversion.high,
        )
        for group in found.groups
    ]
    told = " ".join(
        f"{group.name or found.grouping.nameless}: {words.rate_in_words(group.conversion)} "
        f"({words.engaged_in_words(group)}), {words.limits_in_words(group.conversion)}."
        for group in found.groups
    )
    return _marks(found.grouping.key, title, "so far", marks, told)


def _marks(key: str, title: str, when: str, marks: Sequence[Mark], told: str) -> Marks:
    highest = max((mark.high or 0.0 for mark in marks), default=1.0)
    drawn = any(mark.ring is not None for mark in marks)
    return side_by_side(
        key,
        title,
        f"A dot for the share that engaged {when}, a line for its 95% interval"
        f"{', a ring for the rate drawn together' if drawn else ''}. {told}",
        marks,
        share_values(highest),
        share_label,
        dot=f"engaged {when}",
        line="95% interval",
        ring="drawn towards what they have in common" if drawn else "",
    )


def _data(groups: Sequence[Group], comparison: SideBySide) -> Data:
    sides = {side.name: side for side in comparison.sides}
    rows: list[tuple[Value, ...]] = []
    for group in groups:
        so_far = group.conversion
        row: tuple[Value, ...] = (
            group.name,
            group.leads_with_session,
            group.engaged,
            group.open,
            group.closed,
            group.reopened,
            so_far.estimate,
            so_far.low,
            so_far.high,
        )
        side = sides.get(group.name) if group.name is not None else None
        within: tuple[Value, ...] = (None,) * 9
        if side is not None:
            raw = side.raw
            within = (
                comparison.days,
                side.engaged,
                raw.at_risk,
                raw.estimate,
                raw.low,
                raw.high,
                side.shrunken,
                side.shrunken_low,
                side.shrunken_high,
            )
        rows.append(row + within)
    head = (
        "name leads_with_session engaged open closed reopened so_far so_far_low so_far_high "
        "within_days within_engaged within_at_risk within within_low within_high "
        "drawn_together drawn_together_low drawn_together_high"
    )
    return Data(tuple(head.split()), tuple(rows))


def _differences(comparison: SideBySide) -> Exhibit:
    what = TITLES[comparison.grouping.key]
    title = f"{what}: the differences"
    marks = [
        Mark(
            f"{pair.first} less {pair.second}",
            comparing_words.interval_in_words(pair).split(" points")[0],
            pair.difference,
            pair.low,
            pair.high,
        )
        for pair in comparison.pairs
    ]
    reach = max(abs(value or 0) for mark in marks for value in (mark.low, mark.high))
    top = next(end for end in (0.1, 0.2, 0.4, 1.0) if reach <= end or end == 1.0)
    told = " ".join(
        f"{pair.first} less {pair.second}: {comparing_words.interval_in_words(pair)}."
        for pair in comparison.pairs
    )
    rows = tuple(
        Row(
            (
                f"{pair.first} less {pair.second}",
                comparing_words.interval_in_words(pair),
                comparing_words.luck_in_words(pair),
                "told" if pair.told else words.CANT_TELL,
            )
        )
        for pair in comparison.pairs
    )
    return Exhibit(
        name=f"{comparison.grouping.key}-differences",
        title=title,
        said=(),
        chart=side_by_side(
            f"{comparison.grouping.key}-differences",
            title,
            f"A dot for each difference in percentage points, a line for its 95% interval. {told}",
            marks,
            [-top, -top / 2, 0, top / 2, top],
            points_label,
            dot=f"difference within {comparison.days} days, in points",
            line="95% interval",
            zero=0.0,
        ),
        tables=(
            Table(
                f"Differences within {comparison.days} days",
                ("Pair", "Difference (95% interval)", "Luck alone, after Holm", "Which is more"),
                rows,
            ),
        ),
        data=Data(
            tuple("first second days difference low high p_value p_adjusted told".split()),
            tuple(
                (
                    pair.first,
                    pair.second,
                    comparison.days,
                    pair.difference,
                    pair.low,
                    pair.high,
                    pair.p_value,
                    pair.adjusted,
                    "yes" if pair.told else "no",
                )
                for pair in comparison.pairs
            ),
        ),
        rules=(comparing_words.COMPARED,),
    )
