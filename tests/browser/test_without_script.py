"""The path of a lead in a browser that runs no script: links and buttons work all the same."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from pipeline.followups.models import FollowUp
from pipeline.leads.models import Lead
from tests.browser.hands import follow, headed, on, open_promised, press, says
from tests.conftest import NOW

pytestmark = pytest.mark.browser


def test_the_path_of_a_lead_needs_no_script(equipped, window):
    page = window(equipped.member, script=False)
    page.goto("/t/harbour/leads/new/")
    page.get_by_label("Organisation").fill("Gorse Theatre")
    press(page, "More fields")
    expect(page.get_by_label("Organisation")).to_have_value("Gorse Theatre")
    page.get_by_label("Expected fee").fill("9000")
    press(page, "Log the lead")
    headed(page, "Gorse Theatre")

    follow(page, "Book a session")
    page.get_by_label("Format").select_option(label="Discovery half-hour")
    page.get_by_label("Starts").fill("2026-03-03T09:30")
    press(page, "Book it")
    follow(page, "Mark held")
    press(page, "It was held")
    says(page, "Marked held.")
    open_promised(page, "Takeaway")
    follow(page, "Mark sent")
    page.get_by_label("To whom").fill("box office")
    press(page, "It was sent")
    says(page, "Marked sent.")

    with on(2026, 3, 5):
        page.goto("/t/harbour/?whose=everybody")
        asked = page.locator("#due li", has_text="Ask what they made of it")
        asked.get_by_text("Put off").first.click()
        asked.get_by_label("Until").fill("2026-03-06")
        asked.get_by_role("button", name="Put off", exact=True).click()
        says(page, "put off until 6 Mar 2026")
        assert page.url.endswith("/t/harbour/?whose=everybody")
        asked.get_by_role("button", name="Done").click()
        says(page, "Done: Ask what they made of it.")
        expect(asked).to_have_count(0)
    assert FollowUp.objects.get().state == "done"
    assert Lead.objects.get().standing == "session held"


def test_the_list_is_narrowed_and_read_on_without_script(equipped, window):
    for n in range(60):
        Lead.objects.create(
            team=equipped.team,
            organisation=f"{'Cider' if n % 2 else 'Perry'} Press {n:02}",
            currency="EUR",
            created_at=NOW,
        )
    page = window(equipped.reader, script=False)
    page.goto("/t/harbour/leads/?sort=name")
    expect(page.locator(".leads > li")).to_have_count(50)
    follow(page, "Next leads")
    expect(page.locator(".leads > li")).to_have_count(10)
    page.get_by_label("Search").fill("cider")
    press(page, "Show")
    expect(page.locator("#count")).to_contain_text("30 leads match")
