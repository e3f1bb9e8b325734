"""Hours and promises: what was given, what it brought, and whether what was promised went out."""

from __future__ import annotations

from collections.abc import Mapping

from pipeline.results.cohort import Cohort
from pipeline.results.exhibits.exhibit import Exhibit
from pipeline.results.exhibits.hours import paid, weeks
from pipeline.results.exhibits.promises import after_sending, on_time
from pipeline.results.figures.effort import effort
from pipeline.results.figures.promises import promises


def exhibits(cohort: Cohort, asked: Mapping[str, str]) -> list[Exhibit]:
    """Return the page's figures; none where nothing was held, missed or promised."""
    given, kept = effort(cohort), promises(cohort)
    if not (given.sessions or kept.held or kept.missed or kept.promised):
        return []
    return [paid(given), weeks(given.weeks), on_time(kept), after_sending(kept.after_sending)]
