"""The figures as plain text for a terminal, intervals in words."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import fill

from pipeline.results import words
from pipeline.results.figures.conversion import Group
from pipeline.results.figures.results import Results
from pipeline.results.figures.returns import DelayedReturn

WIDTH = 96

HEAD = ("conversion", "95% interval", "engaged", "of leads", "open", "closed", "reopened")


def as_table(team_name: str, results: Results) -> str:
    """Return all figures with their rules."""
    return "\n\n".join(
        [
            f"{team_name}: results as of {results.as_of.isoformat()}",
            _groups("the team", [results.overall], "all leads"),
            f"left out, since they had decided before their first held session: "
            f"{results.excluded}",
            _groups("by format", results.formats, "format not known"),
            _groups("by source", results.sources, "source not known"),
            _rule(words.WHO_COUNTS, words.WHAT_DECIDES, words.CONVERSION),
            _delayed_return(results.delayed_return),
            _rule(words.DELAYED_RETURN, words.INCIDENCE, words.WHEN_TOLD),
        ]
    )


def _groups(title: str, groups: Sequence[Group], nameless: str) -> str:
    rows = [
        (
            nameless if group.name is None else group.name,
            words.rate_in_words(group.conversion),
            words.limits_in_words(group.conversion),
            str(group.engaged),
            str(group.leads_with_session),
            str(group.open),
            str(group.closed),
            str(group.reopened),
        )
        for group in groups
    ]
    return _table((title, *HEAD), rows) if rows else f"{title}\nno leads yet"


def _delayed_return(delayed: DelayedReturn) -> str:
    counts = (
        f"delayed return: {delayed.started} said “no budget yet”, {delayed.returned} returned, "
        f"{delayed.waiting} wait, {delayed.closed} closed"
    )
    if delayed.off_curve:
        counts += f"\nnot below, since followed only later: {delayed.off_curve}"
    rows = [
        (
            f"{at.days} days",
            words.returned_in_words(at),
            words.return_limits_in_words(at),
            str(at.at_risk),
        )
        for at in delayed.incidence
    ]
    return f"{counts}\n\n{_table(('within', 'returned', '95% interval', 'at risk'), rows)}"


def _rule(*sentences: str) -> str:
    return "\n".join(fill(text, WIDTH) for text in sentences)


def _table(head: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> str:
    """Columns as wide as their widest cell; numbers to the right."""
    lines = [head, *rows]
    widths = [max(len(line[column]) for line in lines) for column in range(len(head))]
    right = [all(row[column].isdecimal() for row in rows) for column in range(len(head))]

    def line(cells: tuple[str, ...]) -> str:
        padded = (
            cell.rjust(width) if to_right else cell.ljust(width)
            for cell, width, to_right in zip(cells, widths, right, strict=True)
        )
        return "  ".join(padded).rstrip()

    return "\n".join([line(head), "-" * (sum(widths) + 2 * len(widths) - 2), *map(line, rows)])
