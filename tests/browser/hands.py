"""What a person does in a window, and reads there."""

from __future__ import annotations

from contextlib import AbstractContextManager
from datetime import UTC, datetime
from urllib.parse import urljoin

from django.conf import settings
from django.test import Client
from playwright.sync_api import Page, expect

from pipeline.clock import moment
from pipeline.teams.models import Member, Team
from sessions.models import Format


def press(page: Page, name: str) -> None:
    """Click the button of this name."""
    page.get_by_role("button", name=name, exact=True).click()


def follow(page: Page, name: str) -> None:
    """Click the first link of this name."""
    page.get_by_role("link", name=name, exact=True).first.click()


def open_promised(page: Page, title: str) -> None:
    """Open a deliverable from the list of what a session promised."""
    page.locator("li").get_by_role("link", name=title, exact=True).click()


def says(page: Page, words: str) -> None:
    """Expect the page to say this about what was just done."""
    expect(page.locator("#messages")).to_contain_text(words)


def headed(page: Page, words: str) -> None:
    """Expect to be on the page with this heading."""
    expect(page.get_by_role("heading", level=1)).to_contain_text(words)


def back_after_a_rest(page: Page, who: Member) -> None:
    """Sign in anew: a browser that was not used for days must."""
    client = Client()
    client.force_login(who.user)
    name = settings.SESSION_COOKIE_NAME
    cookie = {"name": name, "value": client.cookies[name].value, "url": urljoin(page.url, "/")}
    page.context.add_cookies([cookie])


def on(year: int, month: int, day: int) -> AbstractContextManager[None]:
    """Stop the clock, for everybody, in the morning of this day."""
    return moment.stopped(datetime(year, month, day, 9, 30, tzinfo=UTC))


def hour_of(team: Team) -> Format:
    """Return the team's format of an hour."""
    found: Format = Format.objects.for_team(team).get(name="Discovery hour")
    return found
