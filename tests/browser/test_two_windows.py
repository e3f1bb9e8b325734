"""Two windows on one thing: the second person sees both versions and loses nothing."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from pipeline.leads.models import Lead
from sessions.models import Deliverable, DiscoverySession
from tests.browser.hands import follow, headed, hour_of, press, says
from tests.factories import FollowUpFactory, LeadFactory, SessionFactory

pytestmark = pytest.mark.browser


def test_the_second_of_two_writers_sees_both_versions_and_chooses(equipped, window):
    lead = LeadFactory(
        team=equipped.team, organisation="Larch Clinic", owner=equipped.member, note="As heard."
    )
    first, second = window(equipped.owner), window(equipped.member)
    for page in (first, second):
        page.goto(f"/t/harbour/leads/{lead.pk}/")
        follow(page, "Edit")

    first.get_by_label("Organisation").fill("Larch Clinic Trust")
    first.get_by_label("Note").fill("They moved to the north wing.")
    press(first, "Save")
    says(first, "The lead is saved.")

    second.get_by_label("Note").fill("The grant office answers in May.\nAsk for Pim.")
    second.get_by_label("Expected fee").fill("7000")
    press(second, "Save")
    headed(second, "Edit the lead")
    both = second.get_by_role("region", name="Somebody else saved this")
    note = both.get_by_role("row", name="Note")
    expect(note).to_contain_text("They moved to the north wing.")
    expect(note).to_contain_text("The grant office answers in May.")
    name = both.get_by_role("row", name="Organisation")
    expect(name).to_contain_text("Larch Clinic Trust")
    # Whoever did not touch the name takes the other's unless they say otherwise.
    expect(name.get_by_role("checkbox")).to_be_checked()
    expect(note.get_by_role("checkbox")).not_to_be_checked()
    expect(second.get_by_label("Note")).to_have_value(
        "The grant office answers in May.\nAsk for Pim."
    )
    lead.refresh_from_db()
    assert (lead.note, lead.expected_fee) == ("They moved to the north wing.", None)

    press(second, "Save")
    says(second, "The lead is saved.")
    lead.refresh_from_db()
    assert lead.organisation == "Larch Clinic Trust"
    assert lead.note == "The grant office answers in May.\nAsk for Pim."
    assert lead.expected_fee == 7000


def test_the_second_may_take_the_other_version(equipped, window):
    lead = LeadFactory(team=equipped.team, note="As heard.")
    first, second = window(equipped.owner), window(equipped.member)
    for page in (first, second):
        page.goto(f"/t/harbour/leads/{lead.pk}/edit/")
    first.get_by_label("Note").fill("From the first.")
    press(first, "Save")
    says(first, "The lead is saved.")
    second.get_by_label("Note").fill("From the second.")
    press(second, "Save")
    second.get_by_role("row", name="Note").get_by_role("checkbox").check()
    press(second, "Save")
    says(second, "The lead is saved.")
    assert Lead.objects.get().note == "From the first."


def test_a_session_held_in_two_windows_is_held_once(equipped, window):
    session = SessionFactory(lead=LeadFactory(team=equipped.team), format=hour_of(equipped.team))
    first, second = window(equipped.owner), window(equipped.member)
    for page in (first, second):
        page.goto(f"/t/harbour/sessions/{session.pk}/")
        follow(page, "Mark held")
        headed(page, "Mark the session held")
    for page, said in (
        (first, "Marked held."),
        (second, "It was already marked held by Olive Brandt"),
    ):
        press(page, "It was held")
        says(page, said)
        expect(page.get_by_role("main")).to_contain_text("Takeaway")
    assert [d.title for d in Deliverable.objects.all()] == ["Takeaway"]
    assert DiscoverySession.objects.get().marked_by == equipped.owner


def test_figures_of_a_session_held_meanwhile_are_not_lost(equipped, window):
    session = SessionFactory(lead=LeadFactory(team=equipped.team), format=hour_of(equipped.team))
    first, second = window(equipped.owner), window(equipped.member)
    for page in (first, second):
        page.goto(f"/t/harbour/sessions/{session.pk}/held/")
    first.get_by_label("People who came").fill("3")
    press(first, "It was held")
    says(first, "Marked held.")
    second.get_by_label("People who came").fill("5")
    press(second, "It was held")
    expect(second.get_by_role("main")).to_contain_text("already marked held by Olive Brandt")
    row = second.get_by_role("row", name="People who came")
    expect(row).to_contain_text("3")
    expect(second.get_by_label("People who came")).to_have_value("5")
    press(second, "It was held")
    expect(second.get_by_role("main")).to_contain_text("Olive Brandt")
    session.refresh_from_db()
    assert session.attendee_count == 5
    assert Deliverable.objects.count() == 1


def test_one_follow_up_done_in_two_windows_tells_the_second_who_did_it(equipped, window):
    row = FollowUpFactory(lead=LeadFactory(team=equipped.team), owner=equipped.member)
    first, second = window(equipped.member), window(equipped.owner)
    for page in (first, second):
        page.goto("/t/harbour/?whose=everybody")
    for page, said in ((first, f"Done: {row.action}."), (second, "already done by Mateus Coelho")):
        page.get_by_role("button", name="Done").click()
        says(page, said)
        expect(page.locator("#due li")).to_have_count(0)
