"""What a person at the desk sees and does: by keyboard, without network, beside a colleague."""

from __future__ import annotations

import pytest
from django.test import Client
from playwright.sync_api import expect

from pipeline.accounts.models import SignIn
from sessions.models import Note, RunEvent, Statement, Theme
from tests.browser.desks import booked_hour, world_of

pytestmark = pytest.mark.browser


@pytest.fixture
def world(chromium, live_server, equipped):
    with world_of(chromium, live_server.url, booked_hour(equipped)) as made:
        yield made


@pytest.fixture
def desk(world, equipped):
    """The note-taker's window."""
    return world.open(world.person(equipped.member), wrong_by=240)


def test_a_desk_is_run_by_the_keyboard_alone(world, desk):
    page, keys = desk.page, desk.page.keyboard
    keys.press("Alt+p")
    expect(page.locator("#run-state")).to_contain_text("Running · step 1 of")
    keys.press("Alt+c")
    for line in ("# Waiting", "two weeks", "nobody knows", "# People", "one knows", "# waiting"):
        desk.keys(line)
    desk.keys("back under the first")
    keys.press("Alt+n")
    world.pass_by(1)
    keys.press("Alt+n")
    keys.press("Alt+s")
    for line in ("we are near", "we are quick", "we know them"):
        desk.keys(line)
    keys.press("Alt+v")
    for votes in ("3", "5"):
        keys.type(votes)
        keys.press("Tab")
        keys.press("Tab")
    world.pass_by(2)
    under = {
        theme.title: [note.text for note in theme.notes.all()] for theme in Theme.objects.all()
    }
    assert under == {
        "Waiting": ["two weeks", "nobody knows", "back under the first"],
        "People": ["one knows"],
    }
    said = list(Statement.objects.values_list("text", "votes"))
    assert said == [("we are near", 3), ("we are quick", 5), ("we know them", 0)]
    assert [event.kind for event in RunEvent.objects.all()] == ["start", "next", "next"]
    expect(page.locator("#caught")).to_contain_text("Themes and notes")


def test_a_note_is_changed_by_the_keyboard_and_the_focus_comes_back(world, desk):
    page, keys = desk.page, desk.page.keyboard
    keys.press("Alt+c")
    desk.keys("it takes long")
    world.pass_by(2)
    page.locator("[data-note] [data-change]").focus()
    keys.press("Enter")
    keys.press("ControlOrMeta+a")
    desk.keys("it takes two weeks")
    assert page.evaluate("document.activeElement.dataset.change") == "note"
    keys.press("Enter")
    for _ in range(2):
        keys.press("Tab")
    desk.keys("How could it take two days?")
    world.pass_by(2)
    note = Note.objects.get()
    assert (note.text, note.opportunity) == ("it takes two weeks", "How could it take two days?")
    keys.press("Enter")
    keys.press("Escape")
    expect(page.locator("#themes [data-editor]")).to_have_count(0)


def test_many_lines_pasted_become_many_notes(world, desk):
    desk.page.keyboard.press("Alt+c")
    desk.keys("# Waiting\none\n\n  two\r\nthree")
    world.pass_by(2)
    assert list(Note.objects.values_list("text", "theme__title")) == [
        ("one", "Waiting"),
        ("two", "Waiting"),
        ("three", "Waiting"),
    ]


def test_without_network_the_page_says_what_is_not_saved(world, desk):
    page = desk.page
    desk.cut()
    page.keyboard.press("Alt+c")
    for line in ("# Waiting", "one", "two"):
        desk.keys(line)
    world.pass_by(5)
    assert "Not saved yet: 3." in desk.saved()
    assert "No connection; trying again." in desk.saved()
    expect(page.locator("[data-note].waits")).to_have_count(2)
    expect(page.locator("[data-note].waits").first).to_contain_text("not saved yet")
    desk.mend()
    world.pass_by(16)
    assert desk.saved().startswith("Everything is saved.")
    expect(page.locator(".waits")).to_have_count(0)
    assert list(Note.objects.values_list("text", flat=True)) == ["one", "two"]


def test_two_tabs_share_what_waits_and_nothing_doubles(world, desk):
    tab = world.open(desk.context, wrong_by=240)
    desk.cut()
    for window in (desk, tab):
        window.page.keyboard.press("Alt+c")
        window.keys(f"in tab {world.windows.index(window)}")
        world.pass_by(2)
    for window in (desk, tab):
        expect(window.page.locator("[data-note].waits")).to_have_count(2)
        assert "Not saved yet: 2." in window.saved()
    desk.mend()
    world.pass_by(16)
    world.pass_by(2)
    for window in (desk, tab):
        assert window.saved().startswith("Everything is saved.")
        expect(window.page.locator("[data-note]")).to_have_count(2)
    assert list(Note.objects.values_list("text", flat=True)) == ["in tab 0", "in tab 1"]


def test_who_leaves_before_it_is_saved_and_comes_back_has_it_once(world, desk):
    page = desk.page
    desk.cut()
    page.keyboard.press("Alt+c")
    desk.keys("said at the last moment")
    page.keyboard.insert_text("half a li")
    world.pass_by(2)
    desk.mend()
    page.goto("/t/harbour/sessions/")
    desk.wait_until_quiet()
    page.go_back()
    desk.wait_until_quiet()
    assert page.locator("#note-text").input_value() == "half a li"
    world.pass_by(16)
    page.reload()
    desk.wait_until_quiet()
    world.pass_by(2)
    assert desk.saved().startswith("Everything is saved.")
    assert list(Note.objects.values_list("text", flat=True)) == ["said at the last moment"]


def test_who_is_signed_out_is_told_and_loses_nothing(world, desk, equipped):
    SignIn.objects.all().delete()
    desk.page.keyboard.press("Alt+c")
    desk.keys("said meanwhile")
    world.pass_by(2)
    assert "Not saved yet: 1." in desk.saved()
    assert "You are signed out." in desk.saved()
    again = Client()
    again.force_login(equipped.member.user)
    cookie = again.cookies["sessionid"].value
    desk.context.add_cookies([{"name": "sessionid", "value": cookie, "url": world.server}])
    world.pass_by(16)
    assert desk.saved().startswith("Everything is saved.")
    assert Note.objects.get().text == "said meanwhile"


def test_what_the_server_refuses_is_shown_with_its_reason_and_can_be_mended(world, desk):
    page = desk.page
    page.keyboard.press("Alt+c")
    desk.keys("x" * 20_001)
    desk.keys("short")
    world.pass_by(2)
    expect(page.locator("#not-taken")).to_contain_text("This has 20,001 characters")
    assert list(Note.objects.values_list("text", flat=True)) == ["short"]
    page.reload()
    desk.wait_until_quiet()
    page.get_by_role("button", name="Mend it").click()
    assert page.locator("#note-text").input_value() == "x" * 20_001
    page.locator("#note-text").fill("x")
    page.keyboard.press("Enter")
    world.pass_by(2)
    assert list(Note.objects.values_list("text", flat=True)) == ["short", "x"]
    expect(page.locator("#not-taken")).to_be_hidden()


def test_two_who_reword_one_note_at_once_see_both_wordings(world, desk, equipped):
    other = world.open(world.person(equipped.owner))
    desk.page.keyboard.press("Alt+c")
    desk.keys("it takes long")
    world.pass_by(3)
    for window in (desk, other):
        window.page.locator("[data-note] [data-change]").click()
    # while one is still writing, the other's words arrive and take nothing away
    other.page.keyboard.press("ControlOrMeta+a")
    other.page.keyboard.insert_text("it takes ages")
    desk.page.keyboard.press("ControlOrMeta+a")
    desk.keys("it takes two weeks")
    world.pass_by(3)
    expect(other.page.locator("[data-note] [data-text]")).to_have_text("it takes two weeks")
    other.page.keyboard.press("Enter")
    world.pass_by(3)
    for window in (desk, other):
        world.pass_by(3)
        said = window.page.locator("[data-note] [data-text]").all_inner_texts()
        assert said == ["it takes two weeks", "it takes ages"]
        second = window.page.locator("[data-note]").nth(1)
        expect(second).to_contain_text("this is the second wording")


def test_one_minute_left_is_said_and_nothing_sounds_unless_asked(world, desk):
    page = desk.page
    expect(page.get_by_role("button", name="Sound off")).to_have_attribute("aria-pressed", "false")
    page.get_by_role("button", name="Sound off").click()
    expect(page.get_by_role("button", name="Sound on")).to_have_attribute("aria-pressed", "true")
    desk.press("Start")
    world.pass_by(230)
    expect(page.locator("#told")).to_have_text("")
    world.pass_by(20)
    expect(page.locator("#told")).to_have_text("One minute left: Welcome")
    world.pass_by(60)
    expect(page.locator("#told")).to_have_text("Time is up: Welcome")
    assert "over" in page.locator("#step-left").inner_text()
    page.reload()
    expect(page.get_by_role("button", name="Sound on")).to_have_attribute("aria-pressed", "true")


def test_what_is_to_be_shortened_is_proposed_and_one_button_does_it(world, desk):
    page = desk.page
    desk.press("Start")
    world.pass_by(5 * 60 + 6 * 60 + 60)
    proposal = page.locator("#shorter li")
    expect(proposal).to_have_count(1)
    expect(proposal).to_contain_text("How things are today: 1 min less")
    proposal.get_by_role("button").click()
    world.pass_by(1)
    expect(page.locator("#slack")).to_contain_text("too much ahead")
    assert RunEvent.objects.get(kind="add").minutes == -1


def test_on_a_small_screen_nothing_is_cut_off(window, equipped):
    page = window(equipped.member, narrow=True)
    page.goto(f"/t/harbour/sessions/{booked_hour(equipped).pk}/desk/")
    page.get_by_label("What was said").fill("# " + "W" * 110 + "\n" + "o" * 3000)
    page.keyboard.press("Enter")
    expect(page.locator("[data-note]")).to_have_count(1)
    expect(page.locator("#saved-count")).to_have_text("Everything is saved.")
    assert page.evaluate("document.documentElement.scrollWidth") == 360
    page.locator("[data-note] [data-change]").click()
    assert page.evaluate("document.documentElement.scrollWidth") == 360
