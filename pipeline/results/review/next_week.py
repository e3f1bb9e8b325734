"""What to do next week: what is owed first, then whom to write to."""

from __future__ import annotations

from datetime import date

from django.utils.formats import date_format

from pipeline.results.exhibits.saying import count
from pipeline.results.exhibits.waiting import chance_in_words
from pipeline.results.figures.waiting import HORIZON, Listed
from pipeline.results.review.reading import Reading
from pipeline.results.review.review import Line
from pipeline.teams import money


def next_week(reading: Reading) -> tuple[Line, ...]:
    """Return a few things to do, each with its reason."""
    lines = []
    kept = reading.promises
    if kept.owed:
        lines.append(
            Line(f"Send or waive {count(kept.owed, 'promised thing')} still owed.", "deliverables")
        )
    if kept.unmarked:
        lines.append(
            Line(
                f"Mark {count(kept.unmarked, 'session')} held or missed: "
                f"{'its day is' if kept.unmarked == 1 else 'their days are'} over.",
                "sessions",
            )
        )
    lines += [
        Line(
            f"Write to {one.lead.organisation}: {_why(one, reading.cohort.as_of)}.",
            "results-waiting",
            one.lead.lead,
        )
        for one in reading.waiting.leads
    ]
    stopping = reading.waiting.stopping
    if stopping.day is not None and stopping.past:
        lines.append(
            Line(
                f"Let {count(stopping.past, 'lead')} rest that waited {stopping.day:,} days or "
                "longer, unless you know more about them than their waiting time.",
                "results-waiting",
            )
        )
    lines.append(Line("Then go through what is due.", "start"))
    return tuple(lines)


def _why(one: Listed, today: date) -> str:
    """Money first, then what the curve says."""
    lead, reasons = one.lead, []
    if lead.funded_on:
        reasons.append(f"its money arrived on {date_format(lead.funded_on, 'j F Y')}")
    elif lead.expected_on:
        # A month is over on the first of the next.
        since = today.replace(day=1) if lead.by_month else today
        be = "was" if lead.expected_on < since else "is"
        when = date_format(lead.expected_on, "F Y" if lead.by_month else "j F Y")
        reasons.append(f"money {be} expected {'in' if lead.by_month else 'on'} {when}")
    if one.chance.estimate is not None:
        fee = money.show(lead.fee, lead.currency)
        reasons.append(
            f"its chance to return within {HORIZON} days is {chance_in_words(one.chance)}"
            + (f", for {fee}" if fee else "")
        )
    reasons.append(f"it has waited {count(lead.waited, 'day')}")
    return "; ".join(reasons)
