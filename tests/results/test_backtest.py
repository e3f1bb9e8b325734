"""The forecast replayed from past quarters, and how often its interval held."""

from datetime import date
from random import Random

import pytest

from pipeline.results.figures.backtest import (
    Replay,
    backtest,
    of_replays,
    quarters,
    replay,
)
from pipeline.results.figures.forecast import forecast
from pipeline.results.questions.waiting import Alike, came_back, first_wait
from pipeline.stats.proportions import wilson_interval
from tests.factories import DecisionFactory

from . import work
from .rows import AS_OF, add_lead
from .work import DAY, cohort

START = date(2023, 6, 1)


def test_quarters_begin_after_the_first_wait_and_their_ninety_days_are_over():
    assert quarters(date(2025, 1, 1), date(2025, 12, 30)) == [
        date(2025, 4, 1),
        date(2025, 7, 1),
        date(2025, 10, 1),
    ]
    assert quarters(date(2025, 1, 1), date(2025, 12, 29))[-1] == date(2025, 7, 1)
    assert quarters(date(2024, 12, 31), date(2025, 4, 1)) == [date(2025, 1, 1)]


def test_no_more_than_five_years_are_replayed_and_the_calendar_may_end():
    assert len(quarters(date(2001, 5, 5), date(2025, 12, 31))) == 20
    assert quarters(date(9999, 12, 31), date(9999, 12, 31)) == []
    assert quarters(date(9999, 7, 2), date(9999, 12, 31)) == [date(9999, 10, 1)]


def test_the_interval_held_where_the_number_lies_in_it_both_ends_included():
    day = date(2025, 4, 1)
    assert [Replay(day, 9, 2.5, 1, 4, came).held for came in (0, 1, 4, 5)] == [
        False,
        True,
        True,
        False,
    ]
    assert Replay(day, 9, None, None, None, 2).held is None


def test_a_quarter_that_could_not_be_told_is_not_counted():
    day = date(2025, 4, 1)
    found = of_replays(
        [
            Replay(day, 9, None, None, None, 2),
            Replay(day, 9, 2.5, 1, 4, 2),
            Replay(day, 9, 2.5, 1, 4, 7),
        ]
    )
    assert (found.told, found.held, len(found.replays)) == (2, 1, 3)
    assert found.held_rate.estimate == 0.5
    assert (found.held_rate.low, found.held_rate.high) == wilson_interval(1, 2)
    assert not found.enough


def test_a_replay_is_the_forecast_of_its_day():
    alike = [Alike(30, 1, 0, True, 15), Alike(400, 2, 0, True, 15), Alike(10, 0, 0, True, 8)]
    found = replay(date(2025, 4, 1), alike, 3)
    # Half of the 30 that were at risk on day 30 returned on it.
    assert found.expected == pytest.approx(4.0)
    assert (found.waiting, found.returned) == (8, 3)
    assert found.low <= 4 <= found.high


def test_from_five_returns_on_the_intervals_hold_as_often_as_they_say():
    """A simulation with a fixed seed: records of 20 leads that asked within the last 700 days.

    A wait ends with a return on a day from 1 to 300 for 40 of 100; the others close on day 400.
    """
    random, rounds, held = Random(7), 200, []

    def wait() -> tuple[int, int]:
        return (random.randint(1, 300), 1) if random.random() < 0.4 else (400, 2)

    while len(held) < rounds:
        alike, came = [], 0
        for _ in range(20):
            (end, cause), age = wait(), random.randint(0, 700)
            if end <= age:
                alike.append(Alike(end, cause, 0, True, 1))
            else:
                alike.append(Alike(age, 0, 0, True, 1))
                came += cause == 1 and end <= age + 90
        told = replay(date(2025, 4, 1), alike, came).held
        if told is not None:
            held.append(told)
    # Whole numbers can't hit 95% exactly; too short is the fault to be found.
    assert sum(held) / rounds >= 0.95


def test_who_came_back_had_waited_on_the_day_itself(cast):
    day = date(2025, 4, 1)
    work.waited(cast.team, 31, said=date(2025, 3, 1))  # returned on the day itself
    work.waited(cast.team, 32, said=date(2025, 3, 1))
    work.waited(cast.team, 0, said=day + DAY)  # had not said it yet
    work.waited(cast.team, 121, said=date(2025, 3, 1))  # on the last of the 90 days
    work.waited(cast.team, 122, said=date(2025, 3, 1))
    work.waited(cast.team, 60, "declined", said=date(2025, 3, 1))
    assert came_back(cohort(cast.team, day + 90 * DAY), day) == 2


@pytest.fixture
def team(cast):
    """Three in ten return after a year or less, over two and a half years."""
    for number in range(120):
        said = START + (number * 6) * DAY
        day, cause = (40 + number * 7 % 320, "engaged") if number % 10 < 3 else (500, "declined")
        if said + day * DAY <= AS_OF:
            work.waited(cast.team, day, cause, said=said)
        else:
            work.waiting(cast.team, said)
    return cast.team


def test_each_quarter_is_told_by_what_was_known_on_its_day(team):
    found = backtest(cohort(team))
    assert [one.day for one in found.replays][:2] == [date(2023, 7, 1), date(2023, 10, 1)]
    assert found.replays[-1].day == date(2025, 10, 1)
    assert found.replays[0].held is None
    for one in found.replays[-3:]:
        then = forecast(cohort(team, one.day)).ahead[0]
        assert (one.expected, one.low, one.high) == (then.expected, then.low, then.high)
        assert one.waiting == forecast(cohort(team, one.day)).waiting


def test_a_fact_of_a_later_day_changes_no_earlier_forecast(team):
    before = backtest(cohort(team))
    day = before.replays[-1].day + 5 * DAY
    lead = work.waiting(team, day)
    DecisionFactory(lead=lead, kind="engaged", day=day + DAY)
    assert backtest(cohort(team)) == before


def test_it_asks_two_questions_a_quarter_and_one_more(team, django_assert_num_queries):
    # the first wait; for each of ten quarters: waits by day on its day, who came back
    with django_assert_num_queries(1 + 2 * 10):
        found = backtest(cohort(team))
    assert len(found.replays) == 10


def test_filters_hold_for_every_quarter(team, cast):
    assert backtest(cohort(team, year=2019)).replays == ()
    assert first_wait(cohort(team, owners=(cast.member.pk,))) is None


def test_nobody_ever_waited(cast):
    add_lead(cast.team)
    found = backtest(cohort(cast.team))
    assert (found.replays, found.told, found.held_rate.estimate) == ((), 0, None)
