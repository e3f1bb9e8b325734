"""The review put together: five questions in the order in which a partner asks them."""

from __future__ import annotations

from django.utils.formats import date_format

from pipeline.results.exhibits import (
    brought,
    conversion,
    forecast,
    groups,
    hours,
    promises,
    returns,
)
from pipeline.results.exhibits.exhibit import Exhibit
from pipeline.results.review.knowledge import cannot_tell, learned
from pipeline.results.review.next_week import next_week
from pipeline.results.review.past import came_back, gave
from pipeline.results.review.reading import Reading
from pipeline.results.review.review import Part, Review


def review_of(reading: Reading) -> Review:
    """Write the review."""
    quarter = reading.quarter
    first, last = (date_format(day, "j F Y") for day in (quarter.first, quarter.last))
    return Review(
        first=quarter.first,
        last=quarter.last,
        lede=f"What was given and what came back is dated {first} to {last}. What was learned "
        "rests on all facts up to then; each share stands with the interval in which it lies, at "
        "95%.",
        parts=(
            Part("gave", "What we gave", gave(quarter.given)),
            Part("back", "What came back", came_back(quarter.back)),
            Part("learned", "What we learned", learned(reading)),
            Part("unknown", "What we can't tell", cannot_tell(reading)),
            Part("next", "What to do next week", next_week(reading)),
        ),
    )


def exhibits_of(reading: Reading) -> list[Exhibit]:
    """Return the figures that the review rests on, as their own pages show them."""
    shown = [conversion.team(reading.formats)]
    for found, compared in zip(
        (reading.formats, reading.sources, reading.attendees), reading.compared, strict=True
    ):
        if found.groups:
            shown += groups.compared(found, compared)
    if reading.returns.started:
        shown += [
            returns.returning(reading.returns),
            returns.how_long(reading.returns),
            returns.after_funding(reading.since_funding),
            brought.part_of_all(reading.return_share),
            forecast.to_come(reading.forecast),
        ]
    work = reading.promises
    return [
        *shown,
        hours.paid(reading.effort),
        hours.weeks(reading.effort.weeks),
        promises.on_time(work),
        promises.after_sending(work.after_sending),
    ]
