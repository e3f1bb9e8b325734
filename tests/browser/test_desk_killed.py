"""The browser dies without network, just after the typing: nothing that was typed is lost."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import pytest
from django.conf import settings
from django.test import Client
from playwright.sync_api import BrowserContext, Error, expect

from sessions.models import Note
from tests.browser.conftest import FLAGS
from tests.browser.desks import booked_hour

pytestmark = pytest.mark.browser

# Answered once everything that was written before is on the disk.
WRITTEN = """async () => {
  const { readAll } = await import("/static/desk/twin.js");
  return (await readAll("desk.")).length;
}"""
LINES = [f"{n} said without network" for n in range(5)]


@pytest.fixture
def browser_at(chromium, live_server, equipped, tmp_path):
    """Return a browser of its own that keeps what it stores in a folder of the test."""

    @contextmanager
    def opened() -> Iterator[BrowserContext]:
        for left_behind in tmp_path.glob("Singleton*"):
            left_behind.unlink()
        context = chromium.browser_type.launch_persistent_context(
            tmp_path,
            executable_path=os.environ["CHROMIUM"],
            args=FLAGS,
            base_url=live_server.url,
        )
        client = Client()
        client.force_login(equipped.member.user)
        key = client.cookies[settings.SESSION_COOKIE_NAME].value
        context.add_cookies(
            [{"name": settings.SESSION_COOKIE_NAME, "value": key, "url": live_server.url}]
        )
        yield context
        with suppress(Error):
            context.close()

    return opened


def kill_browser_of(folder: Path) -> int:
    """Kill every process that was started on this test's folder; return how many."""
    killed = 0
    for process in Path("/proc").glob("[0-9]*"):
        with suppress(OSError):
            if f"--user-data-dir={folder}".encode() in (process / "cmdline").read_bytes():
                os.kill(int(process.name), signal.SIGKILL)
                killed += 1
    return killed


def test_what_was_typed_a_moment_before_the_browser_died_is_there_once(
    browser_at, equipped, tmp_path
):
    desk = f"/t/harbour/sessions/{booked_hour(equipped).pk}/desk/"
    with browser_at() as context:
        page = context.pages[0]
        page.goto(desk)
        expect(page.locator("#desk.live")).to_have_count(1)
        context.set_offline(True)
        page.keyboard.press("Alt+c")
        for line in LINES:
            page.keyboard.insert_text(line)
            page.keyboard.press("Enter")
        expect(page.locator("#saved-count")).to_have_text("Not saved yet: 5.")
        assert page.evaluate(WRITTEN) == len(LINES)
        assert kill_browser_of(tmp_path) > 0
    assert not Note.objects.exists()
    with browser_at() as context:
        page = context.pages[0]
        page.goto(desk)
        expect(page.locator("[data-note]")).to_have_count(5)
        expect(page.locator("#saved-count")).to_have_text("Everything is saved.")
    assert list(Note.objects.values_list("text", flat=True)) == LINES
