"""From the day on which money arrived to the engagement."""

from datetime import date, timedelta

import pytest

from pipeline.results.figures.readings import Median
from tests.factories import FundingFactory

from .rows import INDEX, add_lead, figures

AS_OF = INDEX + timedelta(days=400)


def on(days: int) -> date:
    return INDEX + timedelta(days=days)


def add(team, *decisions: tuple[str, int], funded: tuple[int, ...] = (), **lead):
    made = add_lead(
        team, ("no budget yet", INDEX), *((kind, on(days)) for kind, days in decisions), **lead
    )
    for days in funded:
        FundingFactory(lead=made, arrived_on=on(days))
    return made


def told(team, as_of=AS_OF):
    found = figures(team, as_of).since_funding
    return found.funded, found.engaged, found.waiting, found.closed


@pytest.mark.parametrize(
    ("decisions", "funded", "came"),
    [
        pytest.param([], (), (0, 0, 0, 0), id="no money, no start"),
        pytest.param([("engaged", 50)], (), (0, 0, 0, 0), id="back without noted money"),
        pytest.param([], (30,), (1, 0, 1, 0), id="funded and waiting"),
        pytest.param([("engaged", 50)], (30,), (1, 1, 0, 0), id="funded, then engaged"),
        pytest.param([("engaged", 30)], (30,), (1, 1, 0, 0), id="engaged on the same day"),
        pytest.param([("engaged", 29)], (30,), (0, 0, 0, 0), id="money after it was back"),
        pytest.param([("declined", 50)], (30,), (1, 0, 0, 1), id="funded, then closed"),
        pytest.param([("declined", 29)], (30,), (0, 0, 0, 0), id="money after it was closed"),
        pytest.param([("engaged", 50)], (0,), (1, 1, 0, 0), id="on the day of no budget yet"),
        pytest.param([("engaged", 50)], (-1,), (0, 0, 0, 0), id="money before it said so"),
        pytest.param([("engaged", 50)], (-1, 40), (1, 1, 0, 0), id="the first since it said so"),
    ],
)
def test_who_is_counted_and_what_came_of_it(cast, decisions, funded, came):
    add(cast.team, *decisions, funded=funded)
    assert told(cast.team) == came


def test_the_clock_starts_when_the_money_arrives(cast):
    """Engaged 20 days after the first money, not 50 after "no budget yet", nor 5 after the next.

    Another is still waiting: by hand 1/2 by day 30, and half had engaged by day 20.
    """
    add(cast.team, ("engaged", 50), funded=(30, 45))
    add(cast.team, funded=(30,))
    found = figures(cast.team, AS_OF).since_funding
    assert found.curve.days.tolist() == [20, 370]
    assert found.incidence[0].estimate == 0.5
    assert found.median.day == 20


def test_only_money_that_had_arrived_by_the_day_counts(cast):
    add(cast.team, funded=(30,))
    assert told(cast.team, on(29)) == (0, 0, 0, 0)
    assert told(cast.team, on(30)) == (1, 0, 1, 0)


def test_followed_only_since_after_the_money_enters_late(cast):
    """Two funded on day 30; one engaged 10 days later, the other, followed since day 45, 20 later.

    By hand: the late one is not at risk on day 10: 1/1, the curve has ended; from the start both
    are: 1/2, then 1.
    """
    add(cast.team, ("engaged", 40), funded=(30,))
    late = add(cast.team, ("engaged", 50), funded=(30,), followed_since=on(45))
    found = figures(cast.team, AS_OF).since_funding
    assert found.curve.at_risk.tolist() == [1, 1]
    late.followed_since = on(30)
    late.save()
    found = figures(cast.team, AS_OF).since_funding
    assert found.curve.at_risk.tolist() == [2, 1]
    late.followed_since = on(50)
    late.save()
    found = figures(cast.team, AS_OF).since_funding
    assert (found.funded, found.off_curve) == (2, 1)


def test_where_no_money_arrived_nothing_can_be_told(cast):
    add(cast.team)
    found = figures(cast.team, AS_OF).since_funding
    assert all(at.estimate is None for at in found.incidence)
    assert found.median == Median(None, None, None)


def test_another_teams_money_is_not_read(cast):
    add(cast.team)
    FundingFactory(lead=add(cast.other_team), arrived_on=on(30))
    assert told(cast.team) == (0, 0, 0, 0)
    assert told(cast.other_team) != (0, 0, 0, 0)
