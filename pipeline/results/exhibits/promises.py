"""Whether what was promised went out on time, sessions missed, and what followed a takeaway."""

from __future__ import annotations

from pipeline.results import words
from pipeline.results.charts.marks import Mark, side_by_side
from pipeline.results.charts.scale import share_label, share_values
from pipeline.results.exhibits.exhibit import Data, Exhibit, Row, Table
from pipeline.results.exhibits.saying import are, count, have, share, were
from pipeline.results.figures.promises import (
    ASSOCIATION,
    RULES,
    AfterSending,
    Band,
    Promises,
)
from pipeline.results.figures.readings import Median


def on_time(found: Promises) -> Exhibit:
    """Shares on time and missed, and how long it took."""
    shares = [
        ("sent on time", f"{found.on_time} of {found.due}", found.on_time_rate),
        ("sessions missed", f"{found.missed} of {found.missed + found.held}", found.missed_rate),
    ]
    middle = found.median
    said = [
        f"{count(found.promised, 'thing')} promised after sessions: {found.sent:,} sent, "
        f"{found.waived:,} waived, {found.owed:,} still owed. Of {found.due:,} whose due day is "
        f"over {found.on_time:,} went out on time: {share(found.on_time_rate.estimate)} (95% "
        f"interval {words.limits_in_words(found.on_time_rate)}).",
        _middle(middle),
        f"{found.missed:,} of {count(found.missed + found.held, 'session')} "
        f"{were(found.missed)} missed: {share(found.missed_rate.estimate)} (95% interval "
        f"{words.limits_in_words(found.missed_rate)}).",
    ]
    if found.unmarked:
        said.append(
            f"{count(found.unmarked, 'session')} {have(found.unmarked)} passed and "
            f"{are(found.unmarked)} not marked held or missed: in no share."
        )
    rows = [
        Row((name, note, share(rate.estimate), words.limits_in_words(rate)))
        for name, note, rate in shares
    ]
    days = "not reached" if middle.day is None else f"{middle.day} working days"
    rows.append(
        Row(("half were sent within", f"{found.sent} sent", days, working_between(middle)))
    )
    return Exhibit(
        name="promises",
        title="What was promised",
        said=tuple(said),
        chart=side_by_side(
            "promises",
            "Promises kept, sessions missed",
            "A dot for each share, a line for its 95% interval. "
            + " ".join(
                f"{name}: {share(rate.estimate)} ({note}), {words.limits_in_words(rate)}."
                for name, note, rate in shares
            ),
            [Mark(name, note, rate.estimate, rate.low, rate.high) for name, note, rate in shares],
            share_values(1.0),
            share_label,
            dot="share so far",
            line="95% interval",
        ),
        tables=(
            Table(
                "Promises and sessions", ("What", "Count", "So far", "95% interval"), tuple(rows)
            ),
        ),
        data=Data(
            ("what", "part", "whole", "estimate", "low", "high"),
            (
                (
                    "on time",
                    found.on_time,
                    found.due,
                    found.on_time_rate.estimate,
                    found.on_time_rate.low,
                    found.on_time_rate.high,
                ),
                (
                    "missed",
                    found.missed,
                    found.missed + found.held,
                    found.missed_rate.estimate,
                    found.missed_rate.low,
                    found.missed_rate.high,
                ),
                (
                    "median working days to sending",
                    found.sent,
                    found.promised,
                    middle.day,
                    middle.low,
                    middle.high,
                ),
            ),
        ),
        rules=RULES,
    )


def _middle(median: Median) -> str:
    if median.day is None:
        return "Working days from session to sending: can't tell yet, half were never reached."
    return (
        f"Half were sent within {count(median.day, 'working day')} of the session (95% interval "
        f"{working_between(median)})."
    )


def working_between(median: Median) -> str:
    """Return ``2 to 4 working days``; an end that is not reached is open."""
    if median.day is None or median.low is None:
        return words.CANT_TELL
    if median.high is None:
        return f"{median.low} working days or more"
    return f"{median.low} to {median.high} working days"


def after_sending(found: AfterSending) -> Exhibit:
    """Conversion by days to the takeaway: an association."""
    bands = [(band_name(band), band) for band in found.bands]
    outside = (
        f"In no group: {count(found.not_sent, 'lead')} to whom nothing was sent, and "
        f"{found.decided:,} that had decided before."
    )
    if found.days is None:
        said = (
            f"{words.CANT_TELL.capitalize()} what follows a quick takeaway: some group has fewer "
            "than ten leads still open and followed 30 days after it.",
            outside,
        )
    else:
        said = (f"Compared within {found.days} days of sending.", outside)
    marks = [
        Mark(
            name,
            f"{band.engaged} of {band.leads}",
            band.within.estimate if band.within else None,
            band.within.low if band.within else None,
            band.within.high if band.within else None,
        )
        for name, band in bands
    ]
    highest = max((mark.high or 0.0 for mark in marks), default=1.0)
    return Exhibit(
        name="after-sending",
        title="Engaged by days to the takeaway",
        said=(*said, ASSOCIATION[-1]),
        chart=side_by_side(
            "after-sending",
            "Engaged by days from session to takeaway",
            "A dot for the share that engaged, a line for its 95% interval. "
            + " ".join(f"{name}: {_within(band)}." for name, band in bands),
            marks,
            share_values(highest),
            share_label,
            dot=f"engaged within {found.days} days of sending",
            line="95% interval",
        )
        if found.days is not None
        else None,
        tables=(
            Table(
                "By days from the session to the first thing sent",
                ("Sent after", "Leads", "Engaged so far", "Engaged within"),
                tuple(
                    Row((name, f"{band.leads:,}", f"{band.engaged:,}", _within(band)))
                    for name, band in bands
                ),
            ),
        ),
        data=Data(
            tuple(
                (
                    "sent_after_days_from sent_after_days_to leads engaged within_days within "
                    "within_low within_high at_risk"
                ).split()
            ),
            tuple(
                (
                    band.least,
                    band.most,
                    band.leads,
                    band.engaged,
                    found.days,
                    band.within.estimate if band.within else None,
                    band.within.low if band.within else None,
                    band.within.high if band.within else None,
                    band.within.at_risk if band.within else None,
                )
                for band in found.bands
            ),
        ),
        rules=ASSOCIATION,
    )


def band_name(band: Band) -> str:
    """Return ``4 to 7 days``."""
    return (
        f"{band.least} days or more" if band.most is None else f"{band.least} to {band.most} days"
    )


def _within(band: Band) -> str:
    if band.within is None:
        return words.CANT_TELL
    return f"{share(band.within.estimate)} ({words.return_limits_in_words(band.within)})"
