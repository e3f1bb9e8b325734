"""All that is read from engagements, closes and returns, as of a day."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from pipeline.results.cohort import BY_ATTENDEES, BY_SOURCE, Cohort
from pipeline.results.figures.conversion import Conversion, Group, conversion
from pipeline.results.figures.returns import (
    DelayedReturn,
    EarnedPage,
    ReturnShare,
    SinceFunding,
    delayed_return,
    return_share,
    returns_page,
    since_funding,
)
from pipeline.results.figures.side_by_side import SideBySide, side_by_side
from pipeline.results.filters import Filters


@dataclass(frozen=True)
class Results:
    """The figures of a team as of a day."""

    as_of: date
    filters: Filters
    by_format: Conversion
    by_source: Conversion
    by_attendees: Conversion
    delayed_return: DelayedReturn
    since_funding: SinceFunding
    return_share: ReturnShare
    earned: EarnedPage

    @property
    def formats(self) -> tuple[Group, ...]:
        return self.by_format.groups

    @property
    def sources(self) -> tuple[Group, ...]:
        return self.by_source.groups

    @property
    def overall(self) -> Group:
        return self.by_format.overall

    @property
    def excluded(self) -> int:
        """Leads that had decided before their session."""
        return self.by_format.left_out

    def compared(self) -> tuple[SideBySide, ...]:
        """Formats, sources and numbers of attendees, each side by side."""
        return tuple(
            side_by_side(found) for found in (self.by_format, self.by_source, self.by_attendees)
        )


def results(cohort: Cohort) -> Results:
    """Compute all of them, in seven queries."""
    delayed = delayed_return(cohort)
    return Results(
        as_of=cohort.as_of,
        filters=cohort.filters,
        by_format=conversion(cohort, cohort.by_format),
        by_source=conversion(cohort, BY_SOURCE),
        by_attendees=conversion(cohort, BY_ATTENDEES),
        delayed_return=delayed,
        since_funding=since_funding(cohort),
        return_share=return_share(cohort),
        earned=returns_page(cohort, delayed.returned),
    )
