"""The whole path of a lead in a browser, by mouse: from the first call to the return."""

from __future__ import annotations

import json
import re
from datetime import date
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from pipeline.followups.models import FollowUp, FollowUpState
from pipeline.leads.models import Lead
from sessions.models import Deliverable, DiscoverySession
from tests.browser.hands import back_after_a_rest, follow, headed, on, open_promised, press, says

pytestmark = pytest.mark.browser


def log_a_lead(page: Page) -> None:
    page.goto("/t/harbour/")
    follow(page, "Log a lead")
    page.get_by_label("Organisation").fill("Fennel & Daughters")
    page.get_by_label("Contact's name").fill("Ines Farrow")
    page.get_by_label("Contact's e-mail").fill("ines@fennel.example")
    page.get_by_label("Source").fill("talk at the library")
    press(page, "Log the lead")
    says(page, "The lead is logged.")
    headed(page, "Fennel & Daughters")


def book_and_hold(page: Page) -> None:
    follow(page, "Book a session")
    page.get_by_label("Format").select_option(label="Discovery hour")
    page.get_by_label("Starts").fill("2026-03-03T11:00")
    page.get_by_label("Joining link or place").fill("Their office, second floor")
    page.get_by_label("Note-taker").select_option(label="Olive Brandt")
    page.get_by_label("Ines Farrow").check()
    press(page, "Book it")
    says(page, "The session is booked.")
    follow(page, "Due")
    follow(page, "Held or missed?")
    follow(page, "Mark held")
    page.get_by_label("People who came").fill("4")
    page.get_by_label("Minutes preparing").fill("30")
    page.get_by_label("Minutes running").fill("60")
    press(page, "It was held")
    says(page, "Marked held.")


def send_the_takeaway(page: Page) -> None:
    open_promised(page, "Takeaway")
    page.get_by_label("Choose a file").set_input_files(
        {"name": "takeaway.pdf", "mimeType": "application/pdf", "buffer": b"%PDF-1.7 made up"}
    )
    press(page, "Upload")
    says(page, "takeaway.pdf is kept here.")
    follow(page, "Mark sent")
    expect(page.get_by_label("To whom")).to_have_value("ines@fennel.example")
    press(page, "It was sent")
    says(page, "Marked sent.")


def decide(page: Page, kind: str, day: str, **more: str) -> None:
    follow(page, "Record a decision")
    page.get_by_label(kind, exact=True).check()
    page.get_by_label("Day", exact=True).fill(day)
    for label, value in more.items():
        page.get_by_label(label.replace("_", " ")).fill(value)
    press(page, "Save")
    says(page, "The decision is recorded.")


def test_a_lead_from_the_first_call_to_the_return(equipped, window):
    page = window(equipped.member)
    log_a_lead(page)
    lead = Lead.objects.get()
    its_page = f"/t/harbour/leads/{lead.pk}/"
    book_and_hold(page)
    send_the_takeaway(page)

    # Two working days after the takeaway.
    follow(page, "Due")
    asked = page.locator("#due li", has_text="Ask what they made of it")
    expect(asked).to_contain_text("Fennel & Daughters")
    expect(page.get_by_role("region", name="The next 14 days")).to_contain_text("Ask what")
    with on(2026, 3, 5):
        page.reload()
        expect(page.get_by_role("region", name="Today")).to_contain_text("Ask what they made")
        asked.get_by_role("button", name="Done").click()
        says(page, "Done: Ask what they made of it.")
        expect(asked).to_have_count(0)

        page.goto(its_page)
        decide(page, "no budget yet", "2026-03-05", Money_expected="2026-09", Money_from="a grant")
        expect(page.locator("h1 + p")).to_contain_text("waiting for funding")

    # A quarter later: asked for today, put off on the start page.
    with on(2026, 6, 5):
        back_after_a_rest(page, equipped.member)
        page.goto("/t/harbour/")
        asked = page.locator("#due li", has_text="whether money is in sight")
        expect(page.get_by_role("region", name="Today")).to_contain_text("money is in sight")
        asked.get_by_text("Put off").first.click()
        asked.get_by_label("Until").fill("2026-06-15")
        asked.get_by_role("button", name="Put off", exact=True).click()
        says(page, "put off until")
        ahead = page.get_by_role("region", name="The next 14 days")
        expect(ahead).to_contain_text("money is in sight")

    with on(2026, 9, 14):
        back_after_a_rest(page, equipped.member)
        page.goto(its_page)
        follow(page, "Record that money arrived")
        page.get_by_label("Day it arrived").fill("2026-09-14")
        press(page, "Save")
        expect(page.locator("h1 + p")).to_contain_text("funded")
        expect(page.get_by_role("region", name="Due next")).to_contain_text("money has arrived")

    with on(2026, 9, 16):
        page.reload()
        decide(page, "engaged", "2026-09-16", Fee="18500.50")
        history = page.get_by_role("region", name="So far")
        expect(history).to_contain_text("return, earned by the session of")
        expect(page.get_by_role("region", name="Due next")).to_contain_text("Nothing is due")
        history.get_by_role("link", name=re.compile("^session of")).click()
        headed(page, "Discovery hour")

        follow(page, "Results")
        expect(page.get_by_role("main")).to_contain_text("1 engaged")
        with page.expect_download() as download:
            follow(page, "Download these figures as JSON")
        figures = json.loads(Path(download.value.path()).read_text())
        assert figures["overall"]["engaged"] == 1
        assert figures["formats"][0]["name"] == "Discovery hour"
        assert figures["delayed_return"]["returned"] == 1

    lead.refresh_from_db()
    assert (lead.standing, lead.index_day) == ("engaged", date(2026, 3, 3))
    held = DiscoverySession.objects.get()
    assert (held.state, held.attendee_count, held.effort) == ("held", 4, 90)
    sent = Deliverable.objects.get()
    assert (sent.sent_on, sent.sent_to) == (date(2026, 3, 3), "ines@fennel.example")
    kinds = list(lead.decisions.order_by("day").values_list("kind", flat=True))
    assert kinds == ["no budget yet", "engaged"]
    assert not FollowUp.objects.filter(state=FollowUpState.OPEN).exists()
