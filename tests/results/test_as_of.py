"""As of a day: only facts whose own day is on or before it."""

from datetime import timedelta

from .rows import INDEX, add_lead, counts, figures

NO_BUDGET, CLOSED, ENGAGED = (INDEX + timedelta(days=n) for n in (10, 20, 30))
ONE_DAY = timedelta(days=1)


def test_each_fact_counts_from_its_own_day_on(cast):
    add_lead(cast.team, ("declined", CLOSED), ("engaged", ENGAGED))
    one = {"leads_with_session": 1}
    assert counts(cast.team, INDEX - ONE_DAY) == {}
    assert counts(cast.team, INDEX) == {**one, "open": 1}
    assert counts(cast.team, CLOSED - ONE_DAY) == {**one, "open": 1}
    assert counts(cast.team, CLOSED) == {**one, "closed": 1}
    assert counts(cast.team, ENGAGED - ONE_DAY) == {**one, "closed": 1}
    assert counts(cast.team, ENGAGED) == {**one, "closed": 1, "reopened": 1}


def test_delayed_return_is_cut_the_same_way(cast):
    add_lead(cast.team, ("no budget yet", NO_BUDGET), ("engaged", ENGAGED))

    def told(day):
        found = figures(cast.team, day).delayed_return
        return found.started, found.returned, found.waiting, found.closed

    assert told(NO_BUDGET - ONE_DAY) == (0, 0, 0, 0)
    assert told(NO_BUDGET) == (1, 0, 1, 0)
    assert told(ENGAGED - ONE_DAY) == (1, 0, 1, 0)
    assert told(ENGAGED) == (1, 1, 0, 0)


def test_a_decision_before_a_session_that_is_still_ahead_shows_nothing(cast):
    add_lead(cast.team, ("declined", INDEX - 2 * ONE_DAY))
    assert counts(cast.team, INDEX - ONE_DAY) == {}
    assert counts(cast.team, INDEX) == {"excluded": 1}
