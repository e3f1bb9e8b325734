"""The desk's page without JavaScript, and what an open page is told."""

from __future__ import annotations

import json
import re
import uuid

import pytest
from django.test import Client

from pipeline.clock import moment
from sessions.desk.clock import MINUTE
from sessions.models import Note, RunEvent, Statement, Step, Theme
from tests.conftest import NOW
from tests.factories import FormatFactory, SessionFactory
from tests.sessions.pages import at

from .conftest import notes, themes, votes


@pytest.fixture(autouse=True)
def asking(steps):
    """The third step asks for statements."""
    Step.objects.filter(pk=steps[2].pk).update(catches="statements", prompt="They come because …")


@pytest.fixture
def page(cast, session):
    return at(cast.team, "desk", session.pk)


@pytest.fixture
def post(cast, session, sign_in):
    """Return a function that posts one form of the page as a browser would."""
    browser = sign_in(cast.member)

    def posted(kind: str, **fields):
        form = {"kind": kind, "key": str(uuid.uuid4())} | fields
        return browser.post(at(cast.team, "desk-catch", session.pk), form)

    return posted


def text_of(response) -> str:
    """Return the words of a page, without what only JavaScript shows."""
    html = re.sub(r"<template.*?</template>", "", response.content.decode(), flags=re.S)
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html))


def test_the_page_says_what_is_in_hand_what_to_say_and_what_comes_next(
    cast, session, sign_in, page, post, steps
):
    post("press", press="start")
    with moment.stopped(NOW + 2 * MINUTE):
        words = text_of(sign_in(cast.member).get(page))
    assert f"Running · step 1 of {len(steps)} Welcome" in words
    assert "3:00 left in this step 58:00 left of 1 h 6:00 of slack" in words
    assert steps[0].say[:40] in words
    assert "Next: How things are today, 10 min" in words


def test_time_over_is_said_in_words_with_what_to_shorten(cast, sign_in, page, post):
    post("press", press="start")
    with moment.stopped(NOW + 12 * MINUTE):
        words = text_of(sign_in(cast.member).get(page))
    assert "7:00 over 48:00 left of 1 h 1:00 too much ahead" in words
    assert "How things are today: 1 min less Shorten it" in words


def test_many_lines_become_many_notes_and_a_mark_opens_a_theme(session, post):
    said = "first\r\n\r\n# Waiting\r\n two weeks \r\nnobody knows\r\n## People\r\none of them"
    assert post("note", text=said).status_code == 302
    assert themes(session) == ["Waiting", "People"]
    assert notes(session) == [
        ("first", ""),
        ("two weeks", "Waiting"),
        ("nobody knows", "Waiting"),
        ("one of them", "People"),
    ]


def test_a_form_posted_twice_counts_once(session, post, steps):
    key = str(uuid.uuid4())
    for _ in range(2):
        post("note", key=key, text="# Waiting\na\nb")
        post("press", key=str(uuid.UUID(int=7)), press="start")
    assert notes(session) == [("a", "Waiting"), ("b", "Waiting")]
    assert RunEvent.objects.count() == 1


def test_who_goes_back_and_changes_a_line_has_that_line_and_no_other_twice(session, post):
    key = str(uuid.uuid4())
    post("note", key=key, text="# Waiting\none\ntwo")
    post("note", key=key, text="# Waiting\none\nthree")
    assert themes(session) == ["Waiting"]
    assert notes(session) == [("one", "Waiting"), ("two", "Waiting"), ("three", "Waiting")]


def test_statements_and_votes_by_forms(session, post, steps):
    post("statement", step=steps[2].pk, text="we are near\nwe are quick")
    row = Statement.objects.get(text="we are quick")
    post("votes", row=row.key, shown="0", votes="4")
    assert votes(session) == [("we are quick", 4), ("we are near", 0)]


def test_what_was_refused_comes_back_as_it_was_typed(session, post, steps):
    response = post("note", text=f"kept\n{'x' * 20_001}\nkept too")
    assert response.status_code == 422
    assert "20,001 characters" in text_of(response)
    box = re.search(r'id="note-text"[^>]*>(.*?)</textarea>', response.content.decode(), re.S)
    assert box
    assert box[1] == "x" * 20_001
    assert notes(session) == [("kept", ""), ("kept too", "")]
    response = post("statement", step="", text="we are near")
    assert response.status_code == 422


def test_a_row_opens_its_forms_by_a_link_and_gets_back_what_was_refused(
    cast, sign_in, page, post, send
):
    key = send("note", text="it takes long")
    opened = sign_in(cast.member).get(f"{page}?change={key}").content.decode()
    shown = re.sub(r"<template.*?</template>", "", opened, flags=re.S)
    assert shown.count("data-editor") == 1
    response = post("reword", what="note", row=key, was="it takes long", text="y" * 20_001)
    assert response.status_code == 422
    assert "y" * 20_001 in response.content.decode()
    assert Note.objects.get().text == "it takes long"


def test_what_was_let_go_is_listed_and_can_be_taken_back(cast, session, sign_in, page, post, send):
    key = send("note", text="it takes long")
    post("let-go", what="note", row=key)
    words = text_of(sign_in(cast.member).get(page))
    assert "Let go: 1 note it takes long Take it back" in words
    post("take-back", what="note", row=key)
    assert notes(session) == [("it takes long", "")]


def test_hostile_text_is_text(cast, sign_in, page, send):
    send("theme", text="<script>alert(1)</script>")
    send("note", text='"><img src=x onerror=alert(1)>')
    html = sign_in(cast.member).get(page).content.decode()
    assert "<script>alert" not in html
    assert "<img src=x" not in html
    assert "&lt;script&gt;alert(1)" in html


def test_a_reader_sees_everything_and_no_button(cast, sign_in, page, send, steps):
    send("note", text="it takes long")
    send("statement", text="we are near", step=steps[2].pk)
    html = sign_in(cast.reader).get(page).content.decode()
    assert "it takes long" in html
    assert "we are near" in html
    main = html[html.index("<main") :]
    assert "<form" not in main
    assert "data-change=" not in main


def test_a_session_without_format_and_hour_has_a_desk_too(cast, session, sign_in, lead, send):
    bare = SessionFactory(lead=lead, format=None)
    response = sign_in(cast.member).get(at(cast.team, "desk", bare.pk))
    assert response.status_code == 200
    assert "60:00 left of 1 h" in text_of(response)
    no_steps = SessionFactory(lead=lead, format=FormatFactory(team=cast.team))
    assert sign_in(cast.member).get(at(cast.team, "desk", no_steps.pk)).status_code == 200


def send_json(browser, url, body, **more):
    return browser.post(url, body, content_type="application/json", **more)


@pytest.mark.parametrize(
    "body", ["[]", "{}", "nonsense", '{"entries": 3, "after": 0}', "[" * 5000, '"x"', "null"]
)
def test_what_is_no_list_of_entries_is_answered_in_words(cast, session, sign_in, body):
    url = at(cast.team, "desk-catch", session.pk)
    response = send_json(sign_in(cast.member), url, body)
    assert (response.status_code, response.json()["why"]) == (
        400,
        "Send JSON with entries and after.",
    )


def test_entries_that_are_none_are_passed_over_and_the_others_told_of(cast, session, sign_in):
    key = "33333333-3333-3333-3333-333333333333"
    odd = [None, 3, "x", [], {}, {"key": "no"}, {"key": key, "kind": "note", "text": ["a"]}]
    body = {"entries": odd, "after": "no number"}
    response = send_json(
        sign_in(cast.member), at(cast.team, "desk-catch", session.pk), json.dumps(body)
    )
    told = response.json()
    assert (told["taken"], told["refused"]) == ([key], {})
    assert [row["text"] for row in told["notes"]] == ["['a']"]


def test_an_open_page_hears_what_changed_since_and_what_time_it_is(cast, session, sign_in, send):
    browser = sign_in(cast.reader)
    url = at(cast.team, "desk-changes", session.pk)
    assert browser.get(url).json() == {"now": round(NOW.timestamp() * 1000), "changed": 0}
    theme = send("theme", text="Waiting")
    send("note", text="a", theme=theme)
    send("press", press="start")
    told = browser.get(url, {"after": "1"}).json()
    assert told["changed"] == 3
    assert told["themes"] == []
    assert [(row["text"], row["theme"]) for row in told["notes"]] == [("a", theme)]
    assert [row["kind"] for row in told["presses"]] == ["start"]
    for odd in ("", "-1", "x", "9" * 30, "٣"):
        assert len(browser.get(url, {"after": odd}).json()["themes"]) == 1
    assert browser.get(url).headers["Cache-Control"] == "no-store"


def test_a_token_is_needed_to_write(cast, session):
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(cast.member.user)
    response = send_json(strict, at(cast.team, "desk-catch", session.pk), "{}")
    assert response.status_code == 403
    assert not Theme.objects.exists()
