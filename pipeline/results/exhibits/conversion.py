"""The team: how many of those with a session engaged, so far and within so many days."""

from __future__ import annotations

from collections.abc import Mapping

from pipeline.results import words
from pipeline.results.cohort import TOGETHER, Cohort
from pipeline.results.exhibits.curves import drawing, steps
from pipeline.results.exhibits.exhibit import Exhibit, Row, Table
from pipeline.results.exhibits.saying import are, between, count, share
from pipeline.results.figures.conversion import Conversion, Group, conversion
from pipeline.results.questions.conversion import HORIZONS


def exhibits(cohort: Cohort, asked: Mapping[str, str]) -> list[Exhibit]:
    """Return the page's figures; none where no lead had a session."""
    found = conversion(cohort, TOGETHER)
    if not found.overall.leads_with_session and not found.left_out:
        return []
    return [team(found)]


def team(found: Conversion) -> Exhibit:
    """The whole team as one group."""
    group = found.overall
    return Exhibit(
        name="team",
        title="The team",
        said=(so_far(group), *_within(group), _left_out(found.left_out)),
        chart=drawing(
            "team",
            "Engaged by days since the session",
            "Steps of the share of leads that had engaged, and of those that had closed first, by "
            f"days since the first held session, with the 95% interval of engaged. {_read(group)}",
            group.curve,
            own="engaged",
            other="closed first",
            effective=True,
        ),
        tables=(_table(group),),
        data=steps(group.curve, HORIZONS, "engaged", "closed"),
        rules=(words.WHO_COUNTS, words.WHAT_DECIDES, words.CONVERSION, words.WITHIN),
    )


def so_far(group: Group) -> str:
    """How many engaged, are open and closed."""
    if not group.leads_with_session:
        return "No lead counts: can't tell yet."
    reopened = f", of which {group.reopened} reopened" if group.reopened else ""
    return (
        f"Of {count(group.leads_with_session, 'lead')} with a held session {group.engaged:,} "
        f"engaged: {words.rate_in_words(group.conversion)} (95% interval "
        f"{words.limits_in_words(group.conversion)}). {group.open:,} {are(group.open)} still open "
        f"and {group.closed:,} closed{reopened}."
    )


def _within(group: Group) -> list[str]:
    """The longest time within which it can be told."""
    if not group.leads_with_session:
        return []
    told = [at for at in group.within if at.told]
    if not told:
        return ["How many engage within so many days of the session: can't tell yet."]
    at = told[-1]
    return [
        f"Within {at.days} days of the session {share(at.estimate)} engage (95% interval "
        f"{between(at.low, at.high)}), open leads taken for open."
    ]


def _left_out(left_out: int) -> str:
    return f"{count(left_out, 'lead')} left out, having decided before the first held session."


def _table(group: Group) -> Table:
    rows = tuple(
        Row(
            (
                f"{at.days} days",
                share(at.estimate),
                words.return_limits_in_words(at),
                f"{at.at_risk:,}",
            )
        )
        for at in group.within
    )
    return Table(
        "Share that engaged, by days since the session",
        ("Within", "Engaged", "95% interval", "At risk"),
        rows,
    )


def _read(group: Group) -> str:
    return " ".join(
        f"Within {at.days} days: {share(at.estimate)}, {words.return_limits_in_words(at)}."
        for at in group.within
    )
