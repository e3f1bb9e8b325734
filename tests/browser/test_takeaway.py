"""From the end of the hour to the file in the lead's hands; and a lane chart by keyboard alone."""

from __future__ import annotations

from datetime import timedelta

import pytest
from playwright.sync_api import Page, expect

from pipeline.mail.models import Letter
from sessions.booking import book
from sessions.models import Deliverable, DiscoverySession, Opening, Part, SharedTakeaway
from sessions.takeaways.harvest import chart_of
from tests.browser.hands import follow, headed, hour_of, press, says
from tests.conftest import NOW
from tests.factories import ContactFactory, LeadFactory

pytestmark = pytest.mark.browser


@pytest.fixture
def session(equipped) -> DiscoverySession:
    """A session of this morning with somebody who has an address."""
    lead = LeadFactory(team=equipped.team, organisation="Fernwick Library")
    return book(
        lead=lead,
        member=equipped.owner,
        now=NOW,
        format=hour_of(equipped.team),
        starts_at=NOW - timedelta(hours=1),
        minutes=60,
        crew={Part.FACILITATOR: [equipped.member]},
        attendees=[ContactFactory(lead=lead, name="Ida Brun", email="ida@fernwick.example")],
    )


def type_in(page: Page, *words: str) -> None:
    """Type into the field that has the focus, and into those that follow it."""
    for word in words:
        page.keyboard.type(word)
        page.keyboard.press("Tab")


@pytest.mark.parametrize("script", [True, False], ids=["with script", "without script"])
def test_from_the_end_of_the_hour_to_the_file_in_the_leads_hands(
    equipped, window, session, script
):
    page = window(equipped.member, script=script)
    page.goto(f"/t/harbour/sessions/{session.pk}/")
    follow(page, "After the hour")
    page.get_by_label("they came").check()
    page.get_by_label("Who decides").fill("The board")
    page.get_by_label("sought").check()
    press(page, "Save")
    says(page, "Now write up what they get back.")
    page.get_by_label("The challenge in one sentence").fill("How might we answer in a day?")
    press(page, "Store the write-up")
    expect(page.get_by_text("nobody looks after it")).to_have_count(0)
    follow(page, "Takeaway")
    headed(page, "Takeaway")
    expect(page.get_by_text("Not in it yet: notes, statements")).to_be_visible()
    follow(page, "Send it")
    page.get_by_role("button", name="Send it").dblclick()
    says(page, "The takeaway is on its way.")
    assert (SharedTakeaway.objects.count(), Letter.objects.count()) == (1, 1)
    assert Deliverable.objects.get(session=session).sent_on == NOW.date()

    shared = SharedTakeaway.objects.get()
    lead = window(None, script=script, narrow=True)
    lead.goto(shared.get_absolute_url())
    headed(lead, "Takeaway for Fernwick Library")
    press(lead, "Open the PDF")
    lead.wait_for_url("**/takeaway.pdf", wait_until="commit")
    file = lead.context.request.get(lead.url)
    assert file.headers["content-type"] == "application/pdf"
    assert file.body().startswith(b"%PDF-")
    assert Opening.objects.get().times == 1

    page.reload()
    expect(page.get_by_text("Opened 1 time: 1 on Tue 3 Mar 2026")).to_be_visible()
    press(page, "End this link to ida@fernwick.example")
    says(page, "The link is ended.")
    lead.goto(shared.get_absolute_url())
    headed(lead, "This link has ended")


def test_a_lane_chart_is_drawn_by_keyboard_alone(equipped, window, session):
    page = window(equipped.member)
    page.goto(f"/t/harbour/sessions/{session.pk}/lanes/")
    page.get_by_label("Step 1: Who", exact=True).focus()
    type_in(page, "Family", "Calls the office", "")
    page.get_by_label("Step 2: Who", exact=True).focus()
    type_in(page, "Treasurer", "Sends the invoice", "the slip")
    page.get_by_role("button", name="Add a step below step 1").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_text("Not stored yet.")).to_be_visible()
    expect(page.get_by_label("Step 2: Who", exact=True)).to_be_focused()
    type_in(page, "Office", "Writes it down", "the question")
    page.keyboard.press("Space")
    page.keyboard.press("Tab")
    page.keyboard.type("Two ledgers")
    page.get_by_role("button", name="Move step 3 up").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_label("Step 2: Who", exact=True)).to_be_focused()
    expect(page.get_by_label("Step 2: Who", exact=True)).to_have_value("Treasurer")
    page.keyboard.press("Enter")
    says(page, "The lane chart is stored.")
    assert [(s.lane, s.text, s.look_next, s.why) for s in chart_of(session).steps] == [
        ("Family", "Calls the office", False, ""),
        ("Treasurer", "Sends the invoice", False, ""),
        ("Office", "Writes it down", True, "Two ledgers"),
    ]
