"""Whether the free hours pay, and how many were given each week."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

from django.utils.formats import date_format

from pipeline.results.charts.marks import Mark, side_by_side
from pipeline.results.charts.scale import whole_values
from pipeline.results.exhibits.exhibit import Data, Exhibit, Row, Table
from pipeline.results.exhibits.saying import count, have, were
from pipeline.results.figures.effort import HOUR, RULES, Effort, FeesAnHour, Ratio, Weeks
from pipeline.results.words import CANT_TELL
from pipeline.teams.templatetags.show import month

Unit = Callable[[float], str]


def paid(found: Effort) -> Exhibit:
    """Hours a session, an engagement and a fee; fees an hour."""
    ratios = [
        ("hours a held session", found.hours_a_session, hours, "noted session"),
        ("hours an engagement", found.hours_an_engagement, hours, "engagement"),
        ("hours a fee", found.hours_a_fee, hours, "fee"),
        *((_fees_name(one), one.an_hour, _in(one.currency), "fee") for one in _fees(found)),
    ]
    return Exhibit(
        name="hours",
        title="Whether the free hours pay",
        said=(*_noted(found), *_most(found), *_converted(found)),
        tables=(
            Table(
                "Hours and fees",
                ("What", "So far", "95% interval", "Rests on"),
                tuple(
                    Row(
                        (
                            name,
                            _estimate(ratio, unit),
                            limits(ratio, unit),
                            count(ratio.events, on),
                        )
                    )
                    for name, ratio, unit, on in ratios
                ),
            ),
            *_rates(found),
        ),
        data=Data(
            ("what", "currency", "estimate", "low", "high", "rests_on"),
            tuple(
                (name, currency, ratio.estimate, ratio.low, ratio.high, ratio.events)
                for (name, ratio, _, _), currency in zip(
                    ratios, [None] * 3 + [one.currency for one in _fees(found)], strict=True
                )
            ),
        ),
        rules=RULES[:-1],
    )


def _fees(found: Effort) -> list[FeesAnHour]:
    converted = found.converted_an_hour
    return [*found.fees_an_hour, *([converted] if converted else [])]


def _fees_name(one: FeesAnHour) -> str:
    return f"fees in {one.currency} an hour"


def _in(currency: str) -> Unit:
    return lambda value: f"{value:,.0f} {currency}"


def hours(value: float) -> str:
    """Return ``12.5 h``."""
    return f"{value:,.1f} h"


def _estimate(ratio: Ratio, unit: Unit) -> str:
    return CANT_TELL if ratio.estimate is None else unit(ratio.estimate)


def limits(ratio: Ratio, unit: Unit) -> str:
    """Return the interval of a ratio, or that it rests on too little."""
    if not ratio.told or ratio.low is None:
        return f"too few, {CANT_TELL}"
    if ratio.high is None:
        return f"{unit(ratio.low)} or more"
    return f"{unit(ratio.low)} to {unit(ratio.high)}"


def _noted(found: Effort) -> list[str]:
    said = [
        f"{count(found.sessions, 'session')} {were(found.sessions)} held with leads that count; "
        f"minutes are noted on {found.noted:,}, {hours(found.minutes / HOUR)} in all. "
        f"{count(found.complete, 'lead')} of {found.leads:,} {have(found.complete)} them noted "
        f"throughout, and of these {found.engaged:,} engaged."
    ]
    if found.without_fee:
        said.append(
            f"{count(found.without_fee, 'engagement')} {have(found.without_fee)} no fee noted."
        )
    return said


def _most(found: Effort) -> list[str]:
    ratio = found.hours_an_engagement
    if not ratio.told or ratio.estimate is None:
        return [
            f"Hours an engagement: {CANT_TELL}, {count(ratio.events, 'engagement')} so far and "
            "ten are needed."
        ]
    return [
        f"An engagement takes {hours(ratio.estimate)} at most, so far (95% interval "
        f"{limits(ratio, hours)})."
    ]


def _converted(found: Effort) -> list[str]:
    if found.converted is None or not found.converted.missing:
        return []
    missing = "; ".join(f"{code} in {month(first)}" for code, first in found.converted.missing)
    return [
        f"Not all fees can be told in {found.converted.currency}: the team entered no rate for "
        f"{missing}."
    ]


def _rates(found: Effort) -> list[Table]:
    if found.converted is None or not found.converted.used:
        return []
    own = found.converted.currency
    rows = tuple(
        Row((f"{used.currency}, {month(used.month)}", f"{used.rate.normalize():f} {own}"))
        for used in found.converted.used
    )
    return [Table("The team's own rates that were used", ("Currency and month", "Rate"), rows)]


def weeks(found: Weeks) -> Exhibit:
    """Hours a week against the team's limit."""
    limit = found.limit / HOUR
    given = [(week.monday, week.minutes / HOUR) for week in found.weeks]
    highest = max([limit, *(spent for _, spent in given)])
    marks = [Mark(_short(monday), "", spent) for monday, spent in given]
    told = ", ".join(f"{_short(monday)}: {spent:.1f}" for monday, spent in given)
    return Exhibit(
        name="weeks",
        title="Free hours a week",
        said=(
            f"In {found.over} of the last {count(len(given), 'week')} more was given than the "
            f"limit of {hours(limit)}. In the middle week it was {hours(found.usual / HOUR)}.",
        ),
        chart=side_by_side(
            "weeks",
            "Hours of sessions held, week by week",
            "A dot for the hours of each week, by its Monday. "
            f"The limit is {hours(limit)}. {told}.",
            marks,
            whole_values(0, highest),
            lambda value: f"{value:.0f} h",
            dot="hours of sessions held in the week",
            line="",
            zero=limit,
            zero_means=f"the team's limit, {hours(limit)}",
            beside=True,
        ),
        tables=(
            Table(
                "Hours by week",
                ("Week from", "Hours", "Limit"),
                tuple(
                    Row((_short(monday), hours(spent), "passed" if spent > limit else "kept"))
                    for monday, spent in given
                ),
            ),
        ),
        data=Data(
            ("week_from", "minutes", "limit_minutes"),
            tuple((week.monday, week.minutes, found.limit) for week in found.weeks),
        ),
        rules=(
            RULES[-1],
            "These are counts of what was held, so they have no interval. The last week may not "
            "be over.",
        ),
    )


def _short(monday: date) -> str:
    return date_format(monday, "j M Y")
