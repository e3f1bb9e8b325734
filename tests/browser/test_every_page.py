"""Every page at 360 px, light and dark: nothing scrolls sideways, and all can be read."""

from __future__ import annotations

from pathlib import Path

import pytest
from django.conf import settings
from playwright.sync_api import Page

from pipeline.leads.models import Lead
from tests.browser.hands import press
from tests.browser.pages import LONG, outside_pages, team_pages
from tests.factories import LeadFactory

pytestmark = pytest.mark.browser

TOO_WIDE = """() => {
  const room = document.documentElement.clientWidth;
  if (document.documentElement.scrollWidth <= room) return [];
  const wide = [...document.querySelectorAll("body *")].filter(
    (e) => e.getBoundingClientRect().right > room + 0.5 && !e.closest(".scroll > *"));
  return [document.documentElement.scrollWidth + " px",
    ...wide.slice(-3).map((e) => e.outerHTML.slice(0, 160))];
}"""
READING = Path(__file__).with_name("reading.js").read_text()


def faults(page: Page, path: str) -> list[str]:
    """Return what is wrong with the page that is shown, in the light and in the dark."""
    found = [f"{path} is too wide: {what}" for what in page.evaluate(TOO_WIDE)]
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        found += [f"{path}, {scheme}: {what}" for what in page.evaluate(READING)]
    return found


def test_no_page_scrolls_sideways_or_is_hard_to_read(equipped, window):
    page = window(equipped.owner, narrow=True)
    found = []
    paths = list(team_pages(equipped))
    assert len(paths) > 40
    for path in paths:
        page.goto(path)
        found += faults(page, path)
    nobody = window(None, narrow=True)
    for path in outside_pages(settings.BASE_URL, equipped.stranger):
        nobody.goto(path)
        found += faults(nobody, path)
    assert not found, "\n".join(found)


def test_the_dark_page_is_dark(equipped, window):
    """Or else what is read in the dark above would be the light page again."""
    page = window(equipped.owner)
    page.goto("/t/harbour/")
    colour = "getComputedStyle(document.body).backgroundColor"
    light = page.evaluate(colour)
    page.emulate_media(color_scheme="dark")
    assert page.evaluate(colour) != light


def test_a_form_that_comes_back_does_not_scroll_sideways(equipped, window):
    lead = LeadFactory(team=equipped.team, organisation=LONG, note=f"{LONG} {LONG}")
    page = window(equipped.owner, narrow=True)
    found = []
    for under in ("", f"{lead.pk}/book/", f"{lead.pk}/decisions/", f"{lead.pk}/contacts/"):
        page.goto(f"/t/harbour/leads/{under}{'' if under.endswith('book/') else 'new/'}")
        page.locator("#form button").first.click()
        page.locator(".errorlist").first.wait_for()
        found += faults(page, f"{page.url} with errors")

    page.goto("/t/harbour/leads/new/")
    page.get_by_label("Organisation").fill(LONG)
    press(page, "Log the lead")
    page.get_by_role("region", name="You may mean this lead").wait_for()
    found += faults(page, "an offered lead")

    page.goto(f"/t/harbour/leads/{lead.pk}/edit/")
    Lead.objects.filter(pk=lead.pk).update(note="Somebody else’s.", version=lead.version + 1)
    page.get_by_label("Note").fill(f"Mine. {LONG}")
    press(page, "Save")
    page.get_by_role("region", name="Somebody else saved this").wait_for()
    found += faults(page, "both versions")
    assert not found, "\n".join(found)
