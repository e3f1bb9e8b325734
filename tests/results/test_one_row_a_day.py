"""However many leads: one query a figure, and at most one row a day and group comes back."""

from datetime import date, timedelta

import numpy as np
import pytest

from pipeline.results.cohort import BY_ATTENDEES, BY_FORMAT, BY_SOURCE, Cohort
from pipeline.results.figures.conversion import conversion
from pipeline.results.figures.returns import delayed_return, return_share, since_funding
from pipeline.stats.incidence import cumulative_incidence
from tests.factories import FormatFactory, SourceFactory

from .bulk import History, store

AS_OF = date(2026, 1, 1)
SPAN = 60


@pytest.fixture
def fetched(monkeypatch):
    """The number of rows of each query on a cohort."""
    counts: list[int] = []
    ask = Cohort.ask

    def counted(self, select, **parameters):
        rows = ask(self, select, **parameters)
        counts.append(len(rows))
        return rows

    monkeypatch.setattr(Cohort, "ask", counted)
    return counts


def some(team, leads: int) -> list[History]:
    """Leads with a random history within SPAN days, one third followed late."""
    draw = np.random.default_rng(leads)
    formats = [FormatFactory(team=team, name=name) for name in ("half", "hour")]
    sources = [SourceFactory(team=team, name=name) for name in ("fair", "letter")]
    histories = []
    for _ in range(leads):
        held = AS_OF - timedelta(days=int(draw.integers(0, SPAN)))
        said = {"no budget yet": 0} if draw.random() < 0.7 else {}
        for kind in ("engaged", "declined"):
            if draw.random() < 0.4:
                said[kind] = int(draw.integers(0, SPAN))
        late = held + timedelta(days=int(draw.integers(0, SPAN)))
        histories.append(
            History(
                held,
                said,
                funded=int(draw.integers(0, SPAN)) if draw.random() < 0.3 else None,
                session={
                    "format": formats[draw.integers(2)],
                    "attendee_count": int(draw.integers(1, 6)),
                },
                lead={
                    "source": sources[draw.integers(2)],
                    "followed_since": late if draw.random() < 1 / 3 else None,
                },
            )
        )
    return histories


@pytest.mark.parametrize("leads", [50, 500])
def test_at_most_one_row_a_day_and_group_crosses_from_the_database(cast, fetched, leads):
    store(cast.team, some(cast.team, leads))
    cohort = Cohort(cast.team, AS_OF)
    for grouping in (BY_FORMAT, BY_SOURCE, BY_ATTENDEES):
        found = conversion(cohort, grouping)
        assert found.overall.leads_with_session == leads
        days = [(group.name, row.day) for group in found.groups for row in group.days]
        assert len(days) == len(set(days)) == fetched.pop()
        assert len(days) <= (SPAN + 1) * len(found.groups)
    for figure in (delayed_return, since_funding):
        figure(cohort)
        assert fetched.pop() <= SPAN + 1
    return_share(cohort)
    assert fetched.pop() == 1
    assert fetched == []


def test_the_figures_are_those_of_the_raw_arrays(cast):
    """What the database has counted into days gives what the leads one by one give."""
    histories = some(cast.team, 400)
    store(cast.team, histories)
    cohort = Cohort(cast.team, AS_OF)

    times, causes = [], []
    waited, ends, entries = [], [], []
    for history in histories:
        seen = (AS_OF - history.held).days
        days = {kind: day for kind, day in history.decisions.items() if day <= seen}
        yes, no = days.get("engaged", seen + 1), days.get("declined", seen + 1)
        end = min(yes, no, seen)
        cause = 0 if min(yes, no) > seen else 1 if yes <= no else 2
        times.append(end)
        causes.append(cause)
        if "no budget yet" in days:
            since = history.lead["followed_since"]
            entry = max(0, (since - history.held).days) if since else 0
            if entry == 0 or entry < end:
                waited.append(end)
                ends.append(cause)
                entries.append(entry)
    same_curve(conversion(cohort, BY_FORMAT).overall.curve, times, causes, None)
    same_curve(delayed_return(cohort).curve, waited, ends, entries)


def same_curve(curve, times, causes, entry):
    raw = cumulative_incidence(times, causes, entry=entry)
    for name in ("days", "at_risk", "events", "survival", "incidence", "se", "low", "high"):
        np.testing.assert_array_equal(getattr(curve, name), getattr(raw, name), err_msg=name)
