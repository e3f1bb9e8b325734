"""A whole hour at the desk at high speed in two windows: the network goes, and one is killed."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest

from sessions.desk.running import clock_of
from sessions.models import Note, RunEvent, Statement, StepRun, Theme
from tests.browser.desks import Window, World, booked_hour, world_of
from tests.conftest import NOW

pytestmark = pytest.mark.browser

TICK = 20
MINUTE = 60


@pytest.fixture
def world(chromium, live_server, equipped):
    with world_of(chromium, live_server.url, booked_hour(equipped)) as made:
        yield made


class Hour:
    """The script of the hour: who types and presses what, in which second."""

    def __init__(self, world: World, facilitator, note_taker) -> None:
        self.world = world
        self.offices = {"F": world.person(facilitator), "N": world.person(note_taker)}
        self.wrong = {"F": -95, "N": 400}
        self.windows: dict[str, Window] = {}
        for who in self.offices:
            self.open(who)
        self.lines: list[str] = []
        self.statements: list[str] = []
        self.apart = False
        self.looks = 0

    def open(self, who: str) -> None:
        self.windows[who] = self.world.open(self.offices[who], wrong_by=self.wrong[who])

    def type(self, who: str) -> None:
        """Type one more note."""
        line = f"{len(self.lines):03} {who}: so they said"
        self.windows[who].page.keyboard.press("Alt+c")
        self.windows[who].keys(line)
        self.lines.append(line)

    def state(self, who: str) -> None:
        """Type one more statement."""
        line = f"{len(self.statements):03} {who}: we are near"
        self.windows[who].page.keyboard.press("Alt+s")
        self.windows[who].keys(line)
        self.statements.append(line)

    def compare(self) -> None:
        """Hold both clocks against the server's own; a second may just be turning."""
        session = self.world.session
        clock = clock_of(session, list(session.format.steps.all()), self.world.now)
        for window in self.windows.values():
            for where, span in (("step-left", clock.step_left), ("hour-left", clock.hour_left)):
                assert abs(window.seconds(where) - span / timedelta(seconds=1)) <= 1, where
        self.looks += 1


def script(hour: Hour) -> dict[int, Callable[[], object]]:
    """Return what happens besides typing, by the second in which it happens."""
    windows = hour.windows

    def cut(who: str) -> None:
        windows[who].cut()
        hour.apart = True

    def mend(who: str) -> None:
        said = windows[who].saved()
        assert "Not saved yet: " in said
        assert "No connection" in said
        windows[who].mend()
        hour.apart = False

    def reload_with_half_a_line() -> None:
        page = windows["F"].page
        page.keyboard.press("Alt+c")
        page.keyboard.insert_text("half a li")
        page.reload()
        windows["F"].wait_until_quiet()
        assert page.locator("#note-text").input_value() == "half a li"
        page.locator("#note-text").fill("")

    def second_tab() -> None:
        tab = hour.world.open(hour.offices["N"], wrong_by=hour.wrong["N"])
        tab.kill()

    def killed() -> None:
        windows["N"].kill()
        hour.offices["N"].set_offline(False)
        hour.open("N")

    return {
        20: lambda: windows["F"].press("Start"),
        6 * MINUTE: lambda: windows["F"].page.keyboard.press("Alt+n"),
        8 * MINUTE: lambda: windows["N"].page.keyboard.press("Alt+m"),
        # five minutes without network, while the others go on
        12 * MINUTE: lambda: cut("N"),
        17 * MINUTE: lambda: mend("N"),
        18 * MINUTE: lambda: windows["N"].press("Next"),
        20 * MINUTE: reload_with_half_a_line,
        22 * MINUTE: second_tab,
        24 * MINUTE: lambda: (
            windows["F"].page.locator("#presses [value=next] ~ button").dblclick()
        ),
        26 * MINUTE: lambda: windows["F"].page.keyboard.press("Alt+p"),
        27 * MINUTE: lambda: windows["N"].page.keyboard.press("Alt+p"),
        # the facilitator goes on without network
        30 * MINUTE: lambda: cut("F"),
        31 * MINUTE: lambda: windows["F"].press("Next"),
        33 * MINUTE: lambda: mend("F"),
        36 * MINUTE: lambda: windows["F"].press("Next"),
        # the note-taker's network goes, and the window dies before it comes back
        40 * MINUTE: lambda: cut("N"),
        41 * MINUTE: killed,
        42 * MINUTE: lambda: setattr(hour, "apart", False),
        48 * MINUTE: lambda: windows["F"].press("Next"),
        50 * MINUTE: lambda: windows["F"].press("Back"),
        51 * MINUTE: lambda: windows["F"].press("Next"),
        59 * MINUTE: lambda: windows["F"].press("End"),
    }


@pytest.fixture
def ran(world, equipped) -> Hour:
    """The hour, when it is over."""
    hour = Hour(world, equipped.owner, equipped.member)
    happens = script(hour)
    for second in range(0, 60 * MINUTE, TICK):
        if second in happens:
            happens[second]()
        hour.type("F" if second % 100 == 40 else "N")
        if second % 300 == 100:
            hour.state("N")
        world.pass_by(TICK)
        if second % 60 == 40 and not hour.apart:
            hour.compare()
    for _ in range(3):
        world.pass_by(15)
    return hour


def test_after_the_hour_every_line_is_there_once_and_in_order(ran, world, equipped):
    session = world.session
    assert len(ran.lines) == 180
    stored = list(Note.objects.kept().filter(session=session).values_list("text", flat=True))
    assert stored == ran.lines
    assert list(Statement.objects.kept().values_list("text", flat=True)) == ran.statements
    # every client shows the same, and so does one that was not there
    ran.windows["third"] = world.open(world.person(equipped.owner))
    for window in ran.windows.values():
        texts = window.page.locator("#themes [data-note] [data-text]").all_inner_texts()
        assert texts == ran.lines
        assert window.saved().startswith("Everything is saved.")

    # the clock agreed whenever it was looked at, but for the minutes without network
    assert ran.looks > 45
    pressed = list(RunEvent.objects.values_list("kind", flat=True))
    assert pressed.count("next") == 7
    assert pressed.count("pause") == pressed.count("resume") == 1
    offline = RunEvent.objects.filter(kind="next").order_by("at")[3]
    assert offline.at - NOW == timedelta(minutes=31)

    # and the real minutes of the steps are those of the hour without its pause
    ran_for = timedelta(minutes=59, seconds=-20) - timedelta(minutes=1)
    assert sum(StepRun.objects.values_list("seconds", flat=True)) == ran_for.total_seconds()
    assert Theme.objects.count() == 0
