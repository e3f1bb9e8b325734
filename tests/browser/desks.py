"""Windows on one desk, whose clocks stand still until the test lets time pass for everybody."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from datetime import datetime, timedelta

from django.conf import settings
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, Error, Page, expect

from pipeline.clock import moment
from pipeline.teams.models import Member
from sessions.booking import book
from sessions.models import DiscoverySession, Format, Part
from tests.browser.under_way import under_way
from tests.conftest import NOW, Cast
from tests.factories import LeadFactory

# What a browser says of a network that is gone is no error of the page.
GONE = "net::ERR_"


class World:
    """The time of the server and of every window, and how windows come and go."""

    def __init__(self, chromium: Browser, server: str, session: DiscoverySession) -> None:
        self.chromium, self.server, self.session = chromium, server, session
        self.now = NOW
        self.stack = ExitStack()
        self.windows: list[Window] = []
        self.contexts: list[BrowserContext] = []
        self.complaints: list[str] = []

    def person(self, who: Member) -> BrowserContext:
        """Return a browser of somebody who is signed in."""
        context = self.chromium.new_context(base_url=self.server, locale="en-GB")
        context.set_default_timeout(15_000)
        client = Client()
        client.force_login(who.user)
        key = client.cookies[settings.SESSION_COOKIE_NAME].value
        cookie = {"name": settings.SESSION_COOKIE_NAME, "value": key, "url": self.server}
        context.add_cookies([cookie])
        context.on("weberror", lambda error: self.complaints.append(str(error.error)))
        self.contexts.append(context)
        return context

    def open(self, context: BrowserContext, *, wrong_by: int = 0) -> Window:
        """Open the desk in a browser whose own clock is wrong by so many seconds."""
        window = Window(self, context, wrong_by)
        self.windows.append(window)
        return window

    def pass_by(self, seconds: float) -> None:
        """Let time pass, first for the server, then for each window."""
        for window in self.windows:
            window.wait_until_quiet()
        self.now += timedelta(seconds=seconds)
        self.stack.close()
        self.stack.enter_context(moment.stopped(self.now))
        for window in self.windows:
            # a jump: whatever asks in it asks at its end, when server and window agree again
            window.page.clock.fast_forward(round(seconds * 1000))
        for window in self.windows:
            window.wait_until_quiet()


class Window:
    """One window on the desk."""

    def __init__(self, world: World, context: BrowserContext, wrong_by: int) -> None:
        self.world, self.context = world, context
        self.page: Page = context.new_page()
        self.under_way = 0
        self.page.on("request", lambda _: self._count(1))
        self.page.on("requestfinished", lambda _: self._count(-1))
        self.page.on("requestfailed", lambda _: self._count(-1))
        self.page.on(
            "console",
            lambda said: (
                world.complaints.append(said.text)
                if said.type in ("error", "warning") and GONE not in said.text
                else None
            ),
        )
        own: datetime = world.now + timedelta(seconds=wrong_by)
        self.page.clock.install(time=own)
        self.page.goto(f"/t/harbour/sessions/{world.session.pk}/desk/")
        self.page.clock.pause_at(own + timedelta(minutes=2))
        expect(self.page.locator("#desk.live")).to_have_count(1)
        self.wait_until_quiet()
        # The clock jumped while the page was opened; what it learned before is gone after these.
        for _ in range(10):
            self.page.evaluate("dispatchEvent(new Event('online'))")
            self.wait_until_quiet()

    def _count(self, change: int) -> None:
        self.under_way += change

    def wait_until_quiet(self) -> None:
        """Wait until no request is under way."""
        self.page.wait_for_timeout(5)
        while self.under_way > 0:
            self.page.wait_for_timeout(5)
        # its answer is read
        self.page.evaluate("() => null")

    def keys(self, text: str) -> None:
        """Type a line and catch it."""
        self.page.keyboard.insert_text(text)
        self.page.keyboard.press("Enter")

    def press(self, name: str, *, twice: bool = False) -> None:
        """Click a button of the run sheet, or double-click it."""
        button = self.page.locator("#presses").get_by_role("button", name=name, exact=True)
        button.click(click_count=2 if twice else 1)

    def cut(self) -> None:
        """Cut the network."""
        self.context.set_offline(True)

    def mend(self) -> None:
        """Give the network back."""
        self.context.set_offline(False)

    def kill(self) -> None:
        """Crash the process of the page, in the middle of whatever it does."""
        self.world.windows.remove(self)
        with suppress(Error):
            self.page.goto("chrome://crash", timeout=5_000)
        self.page.close()

    def seconds(self, where: str) -> int:
        """Return the seconds that a clock of the page shows; below zero where it is over."""
        node = self.page.locator(f"#{where}")
        minutes, seconds = node.locator("b").inner_text().split(":")
        late = "is-late" in (node.get_attribute("class") or "")
        return (int(minutes) * 60 + int(seconds)) * (-1 if late else 1)

    def saved(self) -> str:
        """Return what the page says of what is saved."""
        return self.page.locator("#saved").inner_text()


@contextmanager
def world_of(chromium: Browser, server: str, session: DiscoverySession) -> Iterator[World]:
    """Return a world in which nothing may go wrong but the network."""
    world = World(chromium, server, session)
    try:
        yield world
    finally:
        world.stack.close()
        for context in world.contexts:
            context.close()
        under_way.wait()
    assert world.complaints == []


def booked_hour(cast: Cast) -> DiscoverySession:
    """Return a discovery hour that begins now: Olive facilitates, Mateus takes notes."""
    return book(
        lead=LeadFactory(team=cast.team, organisation="Fernwick Library"),
        member=cast.owner,
        now=NOW,
        format=Format.objects.get(team=cast.team, name="Discovery hour"),
        starts_at=NOW,
        minutes=60,
        crew={Part.FACILITATOR: [cast.owner], Part.NOTE_TAKER: [cast.member]},
    )
