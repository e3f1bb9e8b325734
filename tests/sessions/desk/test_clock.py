"""The clock of a run: from what was pressed and a moment to what is left."""

from __future__ import annotations

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sessions.desk.clock import MINUTE, NONE, Pressed, State, clock_at
from tests.conftest import NOW

# 10 + 3 × 5 + 7 minutes leave 28 of 60: common practice, no source.
STEPS = (10, 5, 5, 5, 7)


def at(minutes: float):
    return NOW + minutes * MINUTE


def run(now: float, *presses: tuple, steps=STEPS, booked=60):
    """Return the clock at a minute, after presses given as (kind, minute, step, minutes)."""
    pressed = [Pressed(kind, at(minute), *rest) for kind, minute, *rest in presses]
    return clock_at(at(now), steps=steps, booked=booked, presses=pressed)


def test_before_the_start_the_slack_is_that_of_the_agenda():
    clock = run(0)
    assert (clock.state, clock.slack, clock.hour_left) == ("ready", 28 * MINUTE, 60 * MINUTE)


def test_the_step_in_hand_and_the_hour_run_down_and_the_slack_stays():
    clock = run(4, ("start", 0))
    assert (clock.step_left, clock.hour_left) == (6 * MINUTE, 56 * MINUTE)
    assert clock.slack == 28 * MINUTE


def test_time_over_runs_on_and_is_taken_from_the_slack():
    clock = run(13, ("start", 0))
    assert (clock.step_left, clock.slack) == (-3 * MINUTE, 25 * MINUTE)


def test_time_saved_goes_to_the_slack():
    clock = run(6, ("start", 0), ("next", 6))
    assert (clock.step, clock.step_left, clock.slack) == (1, 5 * MINUTE, 32 * MINUTE)


def test_a_pause_stops_the_step_and_not_the_hour():
    clock = run(9, ("start", 0), ("pause", 4))
    assert (clock.state, clock.step_left, clock.hour_left) == ("paused", 6 * MINUTE, 51 * MINUTE)
    assert clock.slack == 23 * MINUTE
    clock = run(12, ("start", 0), ("pause", 4), ("resume", 9))
    assert (clock.state, clock.step_left, clock.slack) == ("running", 3 * MINUTE, 23 * MINUTE)


def test_a_minute_added_is_taken_from_the_slack():
    clock = run(4, ("start", 0), ("add", 2, 0, 1))
    assert (clock.step_left, clock.slack) == (7 * MINUTE, 27 * MINUTE)


def test_going_back_goes_on_where_the_step_was_left():
    clock = run(8, ("start", 0), ("next", 6), ("back", 7))
    assert (clock.step, clock.step_left) == (0, 3 * MINUTE)
    assert clock.spent[1] == 1 * MINUTE


def test_the_first_and_the_last_step_are_the_ends():
    assert run(5, ("start", 0), ("back", 1)).step == 0
    on = [("next", n) for n in range(1, 9)]
    assert run(20, ("start", 0), *on).step == len(STEPS) - 1


def test_after_the_end_nothing_runs_until_somebody_goes_on():
    ended = ("start", 0), ("end", 9)
    assert run(30, *ended).spent[0] == 9 * MINUTE
    assert run(30, *ended).hour_left == 51 * MINUTE
    clock = run(30, *ended, ("resume", 28))
    assert (clock.state, clock.spent[0], clock.hour_left) == ("running", 11 * MINUTE, 30 * MINUTE)


def test_a_rehearsal_does_not_count_once_the_run_starts_anew():
    clock = run(22, ("start", 0), ("add", 1, 2, 4), ("next", 3), ("end", 4), ("start", 20))
    assert (clock.step, clock.given) == (0, STEPS)
    assert (clock.spent[0], sum(clock.spent, NONE)) == (2 * MINUTE, 2 * MINUTE)
    assert clock.hour_left == 58 * MINUTE


def test_nothing_is_to_be_shortened_while_there_is_slack():
    assert run(10 + 28, ("start", 0)).shorter == []


def test_the_longest_later_step_is_to_be_shortened_first():
    assert run(10 + 28 + 2, ("start", 0)).shorter == [(4, 2)]


def test_of_two_alike_the_later_is_to_be_shortened_first_and_none_gives_more_than_half():
    # 7 gives 3, each of the fives gives 2
    assert run(10 + 28 + 6, ("start", 0)).shorter == [(4, 3), (3, 2), (2, 1)]
    assert run(60, ("start", 0)).shorter == [(4, 3), (3, 2), (2, 2), (1, 2)]


def test_a_begun_minute_too_much_asks_for_a_whole_one():
    assert run(10 + 28 + 0.01, ("start", 0)).shorter == [(4, 1)]


def test_what_was_proposed_brings_the_slack_back():
    late = run(44, ("start", 0))
    shortened = [("add", 44, step, -minutes) for step, minutes in late.shorter]
    assert run(44, ("start", 0), *shortened).slack == NONE


def test_a_session_without_steps_has_only_its_hour():
    clock = run(7, ("start", 0), ("next", 1), ("add", 2, 0, 1), steps=())
    assert (clock.state, clock.hour_left, clock.slack) == ("running", 53 * MINUTE, 53 * MINUTE)


@pytest.mark.parametrize("kind", ["pause", "resume", "next", "back", "end"])
def test_before_the_start_no_other_button_does_anything(kind):
    assert run(5, (kind, 1)) == run(5)


presses = st.lists(
    st.tuples(
        st.sampled_from(["start", "pause", "resume", "add", "next", "back", "end"]),
        st.integers(0, 5_000),
        st.integers(0, 6),
        st.integers(-5, 5),
    ),
    max_size=25,
)


def made(drawn) -> list[Pressed]:
    """Return presses in order of time, some seconds apart."""
    found, moment = [], NOW
    for kind, seconds, step, minutes in drawn:
        moment += timedelta(seconds=seconds % 600)
        found.append(Pressed(kind, moment, step, minutes))
    return found


@given(presses, st.integers(0, 10_000))
def test_whatever_is_pressed_no_second_is_counted_twice(drawn, later):
    pressed = made(drawn)
    now = (pressed[-1].at if pressed else NOW) + timedelta(seconds=later)
    clock = clock_at(now, steps=STEPS, booked=60, presses=pressed)
    assert 0 <= clock.step < len(STEPS)
    assert all(spent >= NONE for spent in clock.spent)
    assert all(minutes >= 0 for minutes in clock.given)
    taken = clock.booked * MINUTE - clock.hour_left
    assert sum(clock.spent, NONE) <= taken
    if clock.started_at and not any(p.kind in ("pause", "end") for p in pressed):
        assert sum(clock.spent, NONE) == taken == now - clock.started_at


@given(presses, st.integers(0, 10_000), st.integers(0, 10_000))
def test_looking_in_between_changes_nothing(drawn, first, second):
    """A reload, or a second client, sees the clock that it would have seen anyway."""
    pressed = made(drawn)
    end = pressed[-1].at if pressed else NOW
    one = clock_at(end + timedelta(seconds=first), steps=STEPS, booked=60, presses=pressed)
    now = end + timedelta(seconds=first + second)
    assert one.until(now) == clock_at(now, steps=STEPS, booked=60, presses=pressed)


@given(presses)
def test_a_proposal_never_gives_more_than_half_of_what_a_later_step_has_left(drawn):
    pressed = made(drawn)
    now = pressed[-1].at if pressed else NOW
    clock = clock_at(now, steps=STEPS, booked=30, presses=pressed)
    for step, minutes in clock.shorter:
        assert step > clock.step
        assert NONE < minutes * 2 * MINUTE <= clock.left_of(step)
    missing = -(clock.slack // MINUTE)
    if clock.shorter:
        assert clock.state in (State.RUNNING, State.PAUSED)
        assert sum(minutes for _, minutes in clock.shorter) <= missing
