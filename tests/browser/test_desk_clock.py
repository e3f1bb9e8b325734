"""The clock in the browser is the same function as the clock in the server."""

from __future__ import annotations

import random
from datetime import timedelta

import pytest

from sessions.desk.changes import milliseconds
from sessions.desk.clock import Pressed, clock_at
from tests.conftest import NOW

pytestmark = pytest.mark.browser

KINDS = ["start", "pause", "resume", "add", "next", "back", "end"]
ASK = """async (cases) => {
  const clock = await import("/static/desk/clock.js");
  return cases.map(([now, steps, booked, presses]) => {
    const c = clock.clockAt(now, steps, booked, presses);
    return {
      state: c.state, step: c.step, given: c.given, spent: c.spent,
      stepLeft: clock.stepLeft(c), hourLeft: clock.hourLeft(c), slack: clock.slack(c),
      shorter: clock.shorter(c),
    };
  });
}"""


def made_up(chance: random.Random):
    """Return an agenda, its booked minutes, some presses, and a moment after them."""
    steps = [chance.randint(1, 15) for _ in range(chance.randint(0, 7))]
    booked = chance.choice([30, 45, 60, 90])
    moment, presses = NOW, []
    kinds = chance.choices(KINDS, weights=[2, 2, 3, 3, 6, 2, 1], k=chance.randint(0, 20))
    for kind in ["start", *kinds] if chance.random() < 0.9 else kinds:
        moment += timedelta(milliseconds=chance.choice([0, 1, chance.randint(0, 900_000)]))
        step = chance.randrange(len(steps)) if kind == "add" and steps else None
        minutes = chance.randint(-5, 5) if kind == "add" else 0
        presses.append(Pressed(kind, moment, step, minutes))
    later = chance.choice([0, 999, chance.randint(0, 5_000_000)])
    return moment + timedelta(milliseconds=later), steps, booked, presses


def in_server(now, steps, booked, presses):
    clock = clock_at(now, steps=steps, booked=booked, presses=presses)

    def span(value: timedelta) -> int:
        return value // timedelta(milliseconds=1)

    return {
        "state": str(clock.state),
        "step": clock.step,
        "given": list(clock.given),
        "spent": [span(spent) for spent in clock.spent],
        "stepLeft": span(clock.step_left),
        "hourLeft": span(clock.hour_left),
        "slack": span(clock.slack),
        "shorter": [list(pair) for pair in clock.shorter],
    }


def for_browser(now, steps, booked, presses):
    told = [
        {"kind": p.kind, "at": milliseconds(p.at), "step": p.step, "minutes": p.minutes}
        for p in presses
    ]
    return [milliseconds(now), steps, booked, told]


def test_both_clocks_say_the_same_of_five_hundred_made_up_runs(equipped, window):
    chance = random.Random(20260303)
    cases = [made_up(chance) for _ in range(500)]
    page = window(equipped.member)
    page.goto("/t/harbour/")
    found = page.evaluate(ASK, [for_browser(*case) for case in cases])
    assert found == [in_server(*case) for case in cases]
    # the cases go everywhere
    assert {said["state"] for said in found} == {"ready", "running", "paused", "ended"}
    assert sum(bool(said["shorter"]) for said in found) > 50
