"""A real browser on the served app, and ears for whatever the browser complains about.

The server runs in a thread of the test, so that it reads the same stopped clock.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterator

# Playwright's loop runs in the thread in which the tests ask the database. Read at each query.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"

import pytest
from django.conf import settings
from django.test import Client
from playwright.sync_api import Browser, ConsoleMessage, Page, Request, expect, sync_playwright

from pipeline.followups.plans import ensure_plan
from pipeline.teams.models import Member
from sessions.formats import ensure_formats
from tests.browser.under_way import under_way

FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
# The browser notes every answer of this kind; that of a page is what a test asked for.
REFUSED = re.compile(r"the server responded with a status of 4\d\d ")
# For a busy machine; nothing waits this long that is not broken.
PATIENCE = 20_000
expect.set_options(timeout=PATIENCE)


@pytest.fixture(scope="package")
def chromium() -> Iterator[Browser]:
    """Start the browser that ``CHROMIUM`` names."""
    program = os.environ.get("CHROMIUM")
    if not program:
        pytest.fail("CHROMIUM names no browser; script/test sets it.")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture
def equipped(cast):
    """The cast, with the formats and the plan that every founded team has."""
    for team in (cast.team, cast.other_team):
        ensure_formats(team)
        ensure_plan(team)
    return cast


@pytest.fixture
def window(chromium: Browser, live_server) -> Iterator[Callable[..., Page]]:
    """Return a function that opens a window of its own for somebody, signed in.

    At the end of the test no window may have complained, nor asked another host for anything.
    """
    contexts = []
    complaints: list[str] = []

    def heard(message: ConsoleMessage) -> None:
        page_refused = REFUSED.search(message.text) and "/static/" not in message.location["url"]
        if message.type in ("error", "warning") and not page_refused:
            complaints.append(f"{message.page and message.page.url}: {message.text}")

    def asked(request: Request) -> None:
        # The browser's viewer of documents fetches parts of itself.
        own = (live_server.url, "data:", "blob:", "chrome://", "chrome-extension://")
        if not request.url.startswith(own):
            complaints.append(f"asked another host for {request.url}")

    def opened(who: Member | None, *, script: bool = True, narrow: bool = False) -> Page:
        context = chromium.new_context(
            base_url=live_server.url,
            java_script_enabled=script,
            viewport={"width": 360 if narrow else 1280, "height": 800},
            locale="en-GB",
        )
        contexts.append(context)
        context.set_default_timeout(PATIENCE)
        context.on("console", heard)
        context.on("weberror", lambda error: complaints.append(str(error.error)))
        context.on("request", asked)
        if who is not None:
            client = Client()
            client.force_login(who.user)
            key = client.cookies[settings.SESSION_COOKIE_NAME].value
            context.add_cookies(
                [{"name": settings.SESSION_COOKIE_NAME, "value": key, "url": live_server.url}]
            )
        return context.new_page()

    yield opened
    for context in contexts:
        context.close()
    under_way.wait()
    assert complaints == []
