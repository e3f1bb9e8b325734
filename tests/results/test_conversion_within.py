"""How many engage within so many days of the session, while others are still open."""

from datetime import date, timedelta

import pytest

from pipeline.results.cohort import BY_FORMAT, Cohort
from pipeline.results.figures.conversion import conversion
from tests.factories import FormatFactory

from .bulk import History, store
from .rows import INDEX, add_lead, figures


def on(days: int) -> date:
    return INDEX + timedelta(days=days)


def within(team, days: int, as_of: date):
    return figures(team, as_of).overall.at(days)


def test_a_close_competes_and_the_open_are_not_taken_for_lost(cast):
    """Closed on day 10, engaged on day 20, engaged on day 100, still open on day 150.

    By hand: 1/4 by day 30 and by day 90; by day 180 nobody is followed so long, but on day 150
    it was 1/2. "So far" says 2 of 4 all the while.
    """
    for said in [("declined", on(10))], [("engaged", on(20))], [("engaged", on(100))], []:
        add_lead(cast.team, *said)
    assert within(cast.team, 30, on(150)).estimate == pytest.approx(1 / 4, abs=1e-12)
    assert within(cast.team, 90, on(150)).estimate == pytest.approx(1 / 4, abs=1e-12)
    assert within(cast.team, 180, on(150)).estimate is None
    assert within(cast.team, 180, on(180)).estimate == pytest.approx(1 / 2, abs=1e-12)
    assert figures(cast.team, on(150)).overall.conversion.estimate == 1 / 2


def test_a_lead_held_lately_counts_for_the_days_that_it_was_followed(cast):
    """Three held a year ago, one of them engaged on day 60; one held 40 days ago, open.

    By hand: on day 60 the late one is no longer at risk, so 1/3 by day 90, where engaged ÷ leads
    says 1/4.
    """
    add_lead(cast.team, ("engaged", on(60)))
    add_lead(cast.team)
    add_lead(cast.team)
    add_lead(cast.team, held=on(360))
    assert within(cast.team, 90, on(400)).estimate == pytest.approx(1 / 3, abs=1e-12)
    assert figures(cast.team, on(400)).overall.conversion.estimate == 1 / 4


def test_with_nobody_open_the_interval_is_wilsons(cast):
    """11 of 40, 29 closed: 0.1610802 to 0.4283496, as R's prop.test(11, 40, correct=FALSE)."""
    store(cast.team, [History(INDEX, {"engaged" if n < 11 else "declined": 5}) for n in range(40)])
    found = within(cast.team, 30, on(100))
    assert found.estimate == pytest.approx(0.275, abs=1e-12)
    assert found.low == pytest.approx(0.16108016247667337, abs=1e-9)
    assert found.high == pytest.approx(0.42834955806210573, abs=1e-9)


def test_where_nobody_engaged_there_is_an_upper_limit(cast):
    """0 of 8, all followed: Wilson's upper limit is z²/(8 + z²), in closed form."""
    store(cast.team, [History(INDEX) for _ in range(8)])
    found = within(cast.team, 30, on(30))
    assert (found.estimate, found.low) == (0.0, 0.0)
    assert found.high == pytest.approx(1.959963984540054**2 / (8 + 1.959963984540054**2), abs=1e-9)


def test_followed_so_long_is_asked_of_the_day_of_the_session_alone(cast):
    """Of those held at least 90 days ago: two, of which one engaged within 90 days.

    The one that engaged on day 5 of 40 is not among them, though it was seen to its end.
    """
    add_lead(cast.team, ("engaged", on(90)))
    add_lead(cast.team, ("engaged", on(91)))
    add_lead(cast.team, ("engaged", on(65)), held=on(60))
    cohort = Cohort(cast.team, on(100))
    (group,) = conversion(cohort, BY_FORMAT).groups
    by_days = {at.days: (at.leads, at.engaged) for at in group.followed}
    assert by_days == {30: (3, 1), 90: (2, 1), 180: (0, 0), 365: (0, 0)}
    assert group.engaged_within(90) == 2


def test_the_day_that_is_exactly_so_long_ago_is_followed(cast):
    add_lead(cast.team)
    for as_of, followed in ((on(29), 0), (on(30), 1)):
        assert figures(cast.team, as_of).overall.followed[0].leads == followed


def test_the_team_is_all_its_groups_together(cast):
    for name in ("half", "hour"):
        fmt = FormatFactory(team=cast.team, name=name)
        add_lead(cast.team, ("engaged", on(len(name))), format=fmt)
        add_lead(cast.team, format=fmt)
    found = figures(cast.team, on(100))
    assert found.overall.at(30).estimate == 1 / 2
    assert [group.at(30).estimate for group in found.formats] == [1 / 2, 1 / 2]
    assert found.overall.curve.days.tolist() == [4, 100]
