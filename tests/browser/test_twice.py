"""Pressed twice, or gone back and posted again: once in the record, and the person is told."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from pipeline.leads.models import Decision, Lead, LogEntry
from sessions.models import Deliverable, DiscoverySession
from tests.browser.hands import follow, headed, hour_of, press, says
from tests.factories import LeadFactory, SessionFactory

pytestmark = pytest.mark.browser


def press_twice(page: Page, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).dblclick()


def test_a_lead_logged_by_a_double_click_is_one(equipped, window):
    page = window(equipped.member)
    page.goto("/t/harbour/leads/new/")
    page.get_by_label("Organisation").fill("Rowan Rail")
    page.get_by_label("Contact's name").fill("Odile")
    press_twice(page, "Log the lead")
    headed(page, "Rowan Rail")
    says(page, "The lead is logged.")
    lead = Lead.objects.get()
    assert lead.contacts.count() == 1

    page.go_back()
    headed(page, "Log a lead")
    press(page, "Log the lead")
    headed(page, "Rowan Rail")
    says(page, "Already done, once.")
    assert Lead.objects.get() == lead


def test_a_session_booked_by_a_double_click_is_one(equipped, window):
    lead = LeadFactory(team=equipped.team)
    page = window(equipped.member)
    page.goto(f"/t/harbour/leads/{lead.pk}/book/")
    page.get_by_label("Format").select_option(label="Discovery hour")
    page.get_by_label("Starts").fill("2026-03-10T11:00")
    press_twice(page, "Book it")
    headed(page, "Discovery hour, ")
    session = DiscoverySession.objects.get()

    page.go_back()
    headed(page, "Book a session")
    press(page, "Book it")
    headed(page, "Discovery hour, ")
    says(page, "Already done, once.")
    assert DiscoverySession.objects.get() == session


def test_a_conversation_and_a_decision_posted_again_are_one_unless_changed(equipped, window):
    lead = LeadFactory(team=equipped.team)
    page = window(equipped.member)
    page.goto(f"/t/harbour/leads/{lead.pk}/")
    follow(page, "Note a conversation")
    page.get_by_label("call", exact=True).check()
    page.get_by_label("Gist").fill("They will ask the board.")
    press_twice(page, "Save")
    says(page, "The conversation is recorded.")
    page.go_back()
    expect(page.get_by_label("Gist")).to_have_value("They will ask the board.")
    press(page, "Save")
    says(page, "Already done, once.")
    assert LogEntry.objects.count() == 1

    page.go_back()
    page.get_by_label("Gist").fill("The board meets in May.")
    press(page, "Save")
    expect(page.get_by_role("region", name="So far")).to_contain_text("The board meets in May.")
    gists = LogEntry.objects.order_by("pk").values_list("gist", flat=True)
    assert list(gists) == ["They will ask the board.", "The board meets in May."]

    follow(page, "Record a decision")
    page.get_by_label("gone quiet", exact=True).check()
    press_twice(page, "Save")
    says(page, "The decision is recorded.")
    assert Decision.objects.count() == 1


def test_an_edit_saved_by_a_double_click_meets_no_other_writer(equipped, window):
    lead = LeadFactory(team=equipped.team)
    page = window(equipped.member)
    page.goto(f"/t/harbour/leads/{lead.pk}/edit/")
    page.get_by_label("Organisation").fill("Sorrel Foods")
    press_twice(page, "Save")
    headed(page, "Sorrel Foods")
    lead.refresh_from_db()
    assert lead.organisation == "Sorrel Foods"


def test_a_session_held_by_a_double_click_promises_once(equipped, window):
    session = SessionFactory(lead=LeadFactory(team=equipped.team), format=hour_of(equipped.team))
    page = window(equipped.member)
    page.goto(f"/t/harbour/sessions/{session.pk}/held/")
    page.get_by_label("People who came").fill("3")
    press_twice(page, "It was held")
    headed(page, "Discovery hour, ")
    expect(page.get_by_role("main")).to_contain_text("Takeaway")
    assert Deliverable.objects.count() == 1


def test_a_new_lead_after_the_first_is_a_second_wish(equipped, window):
    """The guard is against one form twice, not against two alike."""
    page = window(equipped.member)
    for _ in range(2):
        page.goto("/t/harbour/leads/new/")
        page.get_by_label("Organisation").fill("Rowan Rail")
        press(page, "Log the lead")
    headed(page, "Log a lead")
    expect(page.get_by_role("region", name="You may mean this lead")).to_contain_text("Rowan Rail")
    press(page, "Log a new lead all the same")
    says(page, "The lead is logged.")
    assert Lead.objects.count() == 2
