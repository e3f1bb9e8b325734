"""The run sheet as two of the crew press on it: one clock, and the real minutes kept."""

from __future__ import annotations

from datetime import timedelta

import pytest

from sessions.booking import cancel, put_back
from sessions.desk.clock import MINUTE
from sessions.desk.running import clock_of
from sessions.models import RunEvent, StepRun
from tests.conftest import NOW


def milliseconds(moment) -> int:
    return round(moment.timestamp() * 1000)


@pytest.fixture
def press(send, steps):
    """Return a function that presses a button some minutes after NOW."""

    def pressed(kind: str, minute: float, *, step: int | None = None, claims=None, **more):
        now = NOW + minute * MINUTE
        at = milliseconds(NOW + claims * MINUTE) if claims is not None else ""
        row = steps[step].pk if step is not None else ""
        return send("press", press=kind, now=now, at=at, step=row, **more)

    return pressed


def clock(session, steps, minute: float):
    return clock_of(session, steps, NOW + minute * MINUTE)


def test_of_two_who_press_next_at_once_the_run_goes_on_one_step(cast, session, steps, press):
    press("start", 0)
    press("next", 5, step=0)
    press("next", 5, step=0, by=cast.owner)
    assert clock(session, steps, 6).step == 1
    press("back", 6, step=1)
    press("back", 6, step=1, by=cast.owner)
    assert clock(session, steps, 6).step == 0


def test_a_press_that_changes_nothing_leaves_no_trace(session, steps, press):
    press("pause", 0)
    press("start", 1)
    press("start", 2)
    press("resume", 3)
    assert [event.kind for event in RunEvent.objects.all()] == ["start"]
    assert clock(session, steps, 4).spent[0] == 3 * MINUTE


def test_a_press_sent_again_counts_once(session, steps, press):
    press("start", 0)
    key = press("add", 1, step=0, minutes=1)
    press("add", 2, step=0, minutes=1, key=key)
    assert clock(session, steps, 3).given[0] == steps[0].minutes + 1


def test_what_was_pressed_without_network_counts_from_when_it_was_pressed(session, steps, press):
    press("start", 0)
    press("next", 9, step=0, claims=5)
    press("next", 9, step=1, claims=7)
    ran = clock(session, steps, 9)
    assert ran.step == 2
    assert ran.spent[:3] == (5 * MINUTE, 2 * MINUTE, 2 * MINUTE)


def test_a_late_press_never_goes_before_one_that_is_known(cast, session, steps, press):
    press("start", 0)
    press("next", 6, step=0)
    press("pause", 7, claims=4, by=cast.owner)
    ran = clock(session, steps, 8)
    assert (ran.state, ran.spent[0], ran.spent[1]) == ("paused", 6 * MINUTE, 0 * MINUTE)


def test_the_real_minutes_are_kept_when_the_run_ends(session, steps, press):
    press("start", 0)
    press("next", 6.5, step=0)
    press("end", 20)
    kept = list(StepRun.objects.values_list("step", "seconds"))
    assert kept == [(steps[0].pk, 390), (steps[1].pk, 810)]


def test_a_run_that_goes_on_has_no_minutes_until_it_ends_again(session, steps, press):
    press("start", 0)
    press("end", 5)
    press("resume", 6)
    assert not StepRun.objects.exists()
    press("end", 8)
    assert StepRun.objects.first().seconds == 7 * 60


def test_a_run_that_starts_anew_forgets_the_rehearsal(session, steps, press):
    press("start", -30)
    press("next", -28, step=0)
    press("end", -27)
    press("start", 0)
    assert not StepRun.objects.exists()
    press("end", 4)
    assert [run.seconds for run in StepRun.objects.all()] == [240]


def test_a_step_is_shortened_by_adding_less_than_nothing(session, steps, press):
    press("start", 0)
    press("add", 1, step=7, minutes=-3)
    assert clock(session, steps, 2).given[7] == steps[7].minutes - 3


@pytest.mark.parametrize("minutes", ["", "x", "601", "-601"])
def test_minutes_that_are_none_are_refused(send, press, minutes):
    press("start", 0)
    press("add", 1, step=0, minutes=minutes)
    assert send.refused == ["Give a whole number from -600 to 600 for minutes."]


def test_a_button_that_is_not_there_is_refused(send, press):
    press("jump", 0)
    assert send.refused == ["The run sheet has no such button."]


def test_a_cancelled_session_is_not_started(cast, session, send, press):
    cancel(session=session, member=cast.owner, now=NOW)
    session.refresh_from_db()
    press("start", 0)
    assert send.refused == ["The session is marked cancelled; put it back to booked first."]
    put_back(session=session, member=cast.owner, now=NOW)
    session.refresh_from_db()
    press("start", 0)
    assert send.refused == []


def test_the_clock_is_the_same_after_a_night(session, steps, press):
    """Nothing runs anywhere between two looks at it."""
    press("start", 0)
    press("pause", 4)
    later = clock_of(session, steps, NOW + timedelta(hours=14))
    assert (later.state, later.spent[0]) == ("paused", 4 * MINUTE)
