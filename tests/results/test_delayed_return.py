"""How many of those without a budget came back, and how soon."""

from datetime import timedelta

import pytest

from pipeline.results.figures.readings import IncidenceAt

from .rows import AS_OF, INDEX, add_lead, figures


def on(days: int):
    return INDEX + timedelta(days=days)


def delayed(cast, as_of=AS_OF):
    return figures(cast.team, as_of).delayed_return


def told(cast):
    found = delayed(cast)
    return found.started, found.returned, found.waiting, found.closed


def at(cast, days, as_of=AS_OF):
    (found,) = [point for point in delayed(cast, as_of).incidence if point.days == days]
    return found


@pytest.mark.parametrize(
    ("decisions", "came"),
    [
        pytest.param([], (0, 0, 0, 0), id="who never said it never started"),
        pytest.param([("no budget yet", 0)], (1, 0, 1, 0), id="on the index day it counts"),
        pytest.param([("no budget yet", -1)], (0, 0, 0, 0), id="before the index day it does not"),
        pytest.param([("no budget yet", 3), ("engaged", 9)], (1, 1, 0, 0), id="a return"),
        pytest.param([("no budget yet", 3), ("declined", 9)], (1, 0, 0, 1), id="a close"),
        pytest.param([("no budget yet", 3), ("turned away", 9)], (1, 0, 0, 1), id="turned away"),
        pytest.param([("no budget yet", 3), ("gone quiet", 9)], (1, 0, 1, 0), id="quiet waits on"),
        pytest.param(
            [("no budget yet", 3), ("engaged", 3)], (1, 1, 0, 0), id="engaged on the same day"
        ),
        pytest.param(
            [("no budget yet", 3), ("declined", 3)], (1, 0, 0, 1), id="closed on the same day"
        ),
        pytest.param(
            [("no budget yet", 3), ("declined", 9), ("engaged", 9)],
            (1, 1, 0, 0),
            id="closed and engaged on the same day is a return",
        ),
        pytest.param(
            [("no budget yet", 3), ("declined", 9), ("engaged", 10)],
            (1, 0, 0, 1),
            id="closed before it engaged is a close",
        ),
        pytest.param(
            [("engaged", 2), ("no budget yet", 3)], (0, 0, 0, 0), id="engaged on an earlier day"
        ),
        pytest.param(
            [("declined", 2), ("no budget yet", 3), ("engaged", 9)],
            (0, 0, 0, 0),
            id="closed on an earlier day",
        ),
        pytest.param(
            [("no budget yet", -5), ("no budget yet", 3), ("engaged", 9)],
            (1, 1, 0, 0),
            id="the first one on or after the index day starts it",
        ),
    ],
)
def test_who_started_and_what_came_of_it(cast, decisions, came):
    add_lead(cast.team, *((kind, on(days)) for kind, days in decisions))
    assert told(cast) == came


def test_a_return_on_the_day_of_no_budget_is_an_event_on_day_0(cast):
    """Two leads: one back on day 0, the other still waiting. By hand: 1/2, se √(1/8)."""
    add_lead(cast.team, ("no budget yet", on(3)), ("engaged", on(3)))
    add_lead(cast.team, ("no budget yet", on(3)))
    found = at(cast, 90)
    assert (found.estimate, found.at_risk) == (0.5, 1)
    assert found.se == pytest.approx(0.125**0.5, abs=1e-12)


def test_time_runs_from_the_first_no_budget_yet_not_from_the_last(cast):
    """90 days after the first, 40 after the second: by day 90 it is back."""
    said = [("no budget yet", on(0)), ("no budget yet", on(50)), ("engaged", on(90))]
    add_lead(cast.team, *said)
    assert at(cast, 90).estimate == 1
    add_lead(cast.team, *said[:2], ("engaged", on(91)))
    assert at(cast, 90).estimate == 0.5


def test_a_close_competes_and_is_not_taken_for_waiting(cast):
    """Four leads at risk from day 0. Closed on day 10, back on day 20, back on day 100, waiting.

    By hand: by day 90 one of four is back (1/4, three quarters survive day 10, 3/4 x 1/3); by
    day 180 another (1/2 x 1/2): 1/2. Kaplan-Meier, blind to the close, would say 1/3 and 2/3.
    """
    said = ("no budget yet", on(0))
    add_lead(cast.team, said, ("declined", on(10)))
    add_lead(cast.team, said, ("engaged", on(20)))
    add_lead(cast.team, said, ("engaged", on(100)))
    add_lead(cast.team, said)
    assert at(cast, 90).estimate == pytest.approx(1 / 4, abs=1e-12)
    assert at(cast, 90).at_risk == 2
    assert at(cast, 180).estimate == pytest.approx(1 / 2, abs=1e-12)
    assert at(cast, 180).at_risk == 1


def test_the_rest_is_censored_on_the_as_of_day(cast):
    add_lead(cast.team, ("no budget yet", on(0)))
    assert at(cast, 90, as_of=on(90)) == IncidenceAt(90, 0.0, 0.0, None, None, 1)
    assert at(cast, 90, as_of=on(89)) == IncidenceAt(90, None, None, None, None, 0)


def test_where_nobody_started_nothing_can_be_told(cast):
    add_lead(cast.team)
    assert delayed(cast).incidence == tuple(
        IncidenceAt(days, None, None, None, None, 0) for days in (90, 180, 365, 730)
    )


def test_where_the_curve_has_ended_it_is_told_though_nobody_is_at_risk(cast):
    """One back on day 10, one closed on day 20: from then on the incidence is 1/2 for good."""
    add_lead(cast.team, ("no budget yet", on(0)), ("engaged", on(10)))
    add_lead(cast.team, ("no budget yet", on(0)), ("declined", on(20)))
    found = at(cast, 730)
    assert (found.estimate, found.at_risk) == (0.5, 0)
    assert found.low is not None
    assert found.low < 0.5 < found.high


def test_at_nobody_and_at_everybody_there_are_no_limits(cast):
    add_lead(cast.team, ("no budget yet", on(0)), ("declined", on(10)))
    assert at(cast, 90) == IncidenceAt(90, 0.0, 0.0, None, None, 0)
    add_lead(cast.other_team, ("no budget yet", on(0)), ("engaged", on(10)))
    (first, *_) = figures(cast.other_team).delayed_return.incidence
    assert first == IncidenceAt(90, 1.0, 0.0, None, None, 0)
