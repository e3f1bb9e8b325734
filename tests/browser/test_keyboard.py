"""By keyboard alone: the skip link, where the focus is, forms sent by Enter."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from pipeline.leads.models import Lead
from tests.browser.hands import headed, says
from tests.factories import FollowUpFactory, LeadFactory

pytestmark = pytest.mark.browser

FOCUS = """() => {
  const e = document.activeElement, style = getComputedStyle(e), box = e.getBoundingClientRect();
  return {
    what: e.tagName + (e.id && " #" + e.id) + " " + (e.name || e.textContent.trim().slice(0, 30)),
    body: e === document.body,
    ring: style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2,
    seen: box.width > 0 && box.bottom > 0 && box.top < innerHeight && box.right > 0,
  };
}"""


def walk(page: Page, most: int = 120) -> list[str]:
    """Tab to the end of the page; return what was focused, complain of what is not seen to be."""
    found, unseen = [], []
    for _ in range(most):
        page.keyboard.press("Tab")
        at = page.evaluate(FOCUS)
        if at["body"]:
            break
        found.append(at["what"])
        if not (at["ring"] and at["seen"]):
            unseen.append(at)
    else:
        pytest.fail("The focus never comes to the end of the page.")
    assert unseen == []
    return found


def test_the_skip_link_comes_first_and_leads_into_the_page(equipped, window):
    FollowUpFactory(lead=LeadFactory(team=equipped.team))
    page = window(equipped.member)
    page.goto("/t/harbour/")
    skip = page.get_by_role("link", name="Skip to the page")
    expect(skip).not_to_be_in_viewport()
    page.keyboard.press("Tab")
    expect(skip).to_be_focused()
    expect(skip).to_be_in_viewport()
    page.keyboard.press("Enter")
    expect(page.get_by_role("main")).to_be_focused()
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="Mine and nobody’s")).to_be_focused()


@pytest.mark.parametrize("narrow", [False, True], ids=["wide", "narrow"])
def test_whoever_tabs_sees_where_they_are(equipped, window, narrow):
    lead = LeadFactory(team=equipped.team)
    FollowUpFactory(lead=lead, owner=equipped.owner)
    page = window(equipped.owner, narrow=narrow)
    for path in ("", "leads/", "leads/new/", f"leads/{lead.pk}/", f"leads/{lead.pk}/book/"):
        page.goto(f"/t/harbour/{path}")
        assert len(walk(page)) > 10


def test_one_signs_in_logs_and_finds_a_lead_without_the_mouse(equipped, window):
    equipped.member.user.set_password("six calm herons")
    equipped.member.user.save()
    page = window(None)
    page.goto("/t/harbour/leads/new/")
    headed(page, "Sign in")
    page.get_by_label("E-mail").focus()
    page.keyboard.type(equipped.member.user.email)
    page.keyboard.press("Tab")
    page.keyboard.type("six calm herons")
    page.keyboard.press("Enter")

    headed(page, "Log a lead")
    page.get_by_label("Organisation").focus()
    page.keyboard.type("Teasel Optics")
    page.keyboard.press("Tab")
    page.keyboard.type("Roos Amery")
    page.keyboard.press("Enter")
    says(page, "The lead is logged.")

    # Of several buttons Enter means the one that does no harm.
    page.goto("/t/harbour/leads/new/")
    page.get_by_label("Organisation").focus()
    page.keyboard.type("Teasel Optics")
    page.keyboard.press("Enter")
    expect(page.get_by_role("region", name="You may mean this lead")).to_be_visible()
    page.get_by_label("Organisation").press("Enter")
    expect(page.get_by_role("region", name="You may mean this lead")).to_be_visible()
    assert Lead.objects.count() == 1

    page.goto("/t/harbour/leads/")
    page.get_by_label("Search").focus()
    page.keyboard.type("amery")
    page.keyboard.press("Enter")
    expect(page.locator("#count")).to_contain_text("1 lead matches")
    page.get_by_role("link", name="Teasel Optics").press("Enter")
    headed(page, "Teasel Optics")


def test_a_follow_up_is_put_off_without_the_mouse(equipped, window):
    FollowUpFactory(lead=LeadFactory(team=equipped.team), owner=equipped.member)
    page = window(equipped.member)
    page.goto("/t/harbour/")
    page.locator("summary", has_text="Put off").focus()
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    until = page.get_by_label("Until")
    expect(until).to_be_focused()
    until.fill("2026-03-10")
    page.keyboard.press("Enter")
    says(page, "put off until 10 Mar 2026")
