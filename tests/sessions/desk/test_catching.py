"""What the crew catches: themes, notes, questions, statements and votes."""

from __future__ import annotations

from datetime import timedelta

import pytest

from sessions.models import Note, Statement, Theme
from tests.conftest import NOW
from tests.factories import SessionFactory

from .conftest import notes, themes, votes


def milliseconds(moment) -> int:
    return round(moment.timestamp() * 1000)


def test_a_note_stands_under_its_theme_with_who_caught_it_and_when(cast, session, steps, send):
    theme = send("theme", text="Waiting")
    send("note", text="Two weeks for a signature", theme=theme, step=steps[1].pk)
    assert notes(session) == [("Two weeks for a signature", "Waiting")]
    note = Note.objects.get()
    assert (note.by, note.at, note.step) == (cast.member, NOW, steps[1])


def test_a_note_whose_theme_is_not_known_is_kept_under_none(session, send):
    send("note", text="Kept", theme="11111111-1111-1111-1111-111111111111")
    assert notes(session) == [("Kept", "")]


def test_what_was_typed_earlier_and_came_late_stands_where_it_was_said(session, send):
    send("note", text="second", at=milliseconds(NOW - timedelta(minutes=1)))
    send("note", text="first", at=milliseconds(NOW - timedelta(minutes=6)))
    send("note", text="third", at=milliseconds(NOW))
    assert [text for text, _ in notes(session)] == ["first", "second", "third"]


@pytest.mark.parametrize("claimed", ["", "soon", "9" * 40, milliseconds(NOW) + 1, 0, "-5", "1e3"])
def test_a_moment_that_cannot_be_true_is_not_believed(send, claimed):
    send("note", text="said", at=claimed)
    assert Note.objects.get().at == NOW


def test_a_second_theme_of_the_same_title_is_the_first(session, send):
    first, second = send("theme", text="Waiting"), send("theme", text="  waiting ")
    send("note", text="a", theme=first)
    send("note", text="b", theme=second)
    assert themes(session) == ["Waiting"]
    assert notes(session) == [("a", "Waiting"), ("b", "Waiting")]


def test_merged_themes_are_one_also_for_what_comes_late(session, send):
    one, two, three = (send("theme", text=title) for title in ("Forms", "Signatures", "Paper"))
    send("note", text="a", theme=one)
    send("merge", row=one, theme=two)
    send("merge", row=two, theme=three)
    send("note", text="late", theme=one)
    assert themes(session) == ["Paper"]
    assert notes(session) == [("a", "Paper"), ("late", "Paper")]


def test_a_theme_is_not_merged_into_itself_not_even_on_a_detour(session, send):
    one, two = send("theme", text="Forms"), send("theme", text="Paper")
    send("merge", row=one, theme=one)
    assert send.refused == ["Choose another theme to merge this one into."]
    send("merge", row=one, theme=two)
    send("merge", row=two, theme=one)
    assert send.refused == ["Choose another theme to merge this one into."]
    assert themes(session) == ["Paper"]


def test_the_notes_of_a_theme_that_was_let_go_stay(session, send):
    theme = send("theme", text="Waiting")
    send("note", text="a", theme=theme)
    send("let-go", what="theme", row=theme)
    assert (themes(session), notes(session)) == ([], [("a", "")])
    send("take-back", what="theme", row=theme)
    assert themes(session) == ["Waiting"]


def test_who_writes_under_a_theme_that_was_let_go_takes_it_back(session, send):
    theme = send("theme", text="Waiting")
    send("let-go", what="theme", row=theme)
    send("note", text="b", theme=theme)
    assert notes(session) == [("b", "Waiting")]


def test_a_note_moves_is_let_go_and_is_taken_back(session, send):
    one, two = send("theme", text="Forms"), send("theme", text="People")
    note = send("note", text="a", theme=one)
    send("move", row=note, theme=two)
    assert notes(session) == [("a", "People")]
    send("let-go", what="note", row=note)
    assert notes(session) == []
    send("take-back", what="note", row=note)
    send("move", row=note, theme="")
    assert notes(session) == [("a", "")]


def test_a_note_becomes_a_question_and_stays_as_it_was_said(session, send):
    note = send("note", text="Nobody answers the phone")
    send("question", row=note, was="", text="How could every caller reach somebody?")
    kept = Note.objects.get()
    assert kept.text == "Nobody answers the phone"
    assert kept.opportunity == "How could every caller reach somebody?"
    assert list(Note.objects.opportunities()) == [kept]
    send("question", row=note, was=kept.opportunity, text="")
    assert list(Note.objects.opportunities()) == []


def test_votes_are_counted_as_differences_from_what_was_seen(session, steps, send):
    one = send("statement", text="we are near", step=steps[2].pk)
    two = send("statement", text="we are quick", step=steps[2].pk)
    send("votes", row=one, shown="0", votes="2")
    send("votes", row=one, shown="0", votes="1")
    send("votes", row=two, shown="0", votes="5")
    assert votes(session) == [("we are quick", 5), ("we are near", 3)]
    send("votes", row=one, shown="9", votes="0")
    assert votes(session)[-1] == ("we are near", 0)


@pytest.mark.parametrize("typed", ["", "many", "-1", "10001", "1.5", "٣x"])
def test_votes_that_are_no_count_are_refused(steps, send, typed):
    row = send("statement", text="we are near", step=steps[2].pk)
    send("votes", row=row, shown="0", votes=typed)
    assert send.refused == ["Give a whole number from 0 to 10000 for votes."]
    assert Statement.objects.get().votes == 0


def test_a_statement_needs_its_prompt(send):
    send("statement", text="we are near", step="")
    assert send.refused == ["Choose the prompt that this answers."]


@pytest.mark.parametrize("kind", ["note", "theme", "statement"])
@pytest.mark.parametrize("text", ["", "  \n ", "\x00\x07", "\ud800"])
def test_nothing_is_not_caught(steps, send, kind, text):
    send(kind, text=text, step=steps[2].pk)
    assert send.refused == ["Write something first."]


def test_a_text_too_long_is_refused_with_its_length(send):
    send("note", text="x" * 20_001)
    assert send.refused == ["This has 20,001 characters; 20,000 are the most. Send it in parts."]
    send("theme", text="x" * 121)
    assert send.refused == ["This has 121 characters; 120 are the most. Send it in parts."]


def test_what_no_text_holds_is_left_out_and_the_rest_is_kept(session, send):
    send("note", text="a\x00b\ud83dc\r\nd\te 🙂 שלום")
    assert notes(session) == [("abc\nd e 🙂 שלום", "")]


@pytest.mark.parametrize(
    ("kind", "fields"),
    [
        ("reword", {"what": "note"}),
        ("reword", {"what": "session"}),
        ("question", {}),
        ("move", {}),
        ("merge", {}),
        ("votes", {"votes": "1", "shown": "0"}),
        ("let-go", {"what": "theme"}),
        ("take-back", {"what": ""}),
        ("both", {"what": "statement"}),
        ("paint", {}),
        ("", {}),
    ],
)
def test_what_names_no_row_of_this_session_is_refused(send, kind, fields):
    send(kind, row="11111111-1111-1111-1111-111111111111", text="x", was="", **fields)
    assert len(send.refused) == 1


def test_rows_of_another_session_are_not_reached(cast, session, send, lead):
    other = SessionFactory(lead=lead, format=session.format)
    shared = {"team": cast.team, "session": other, "at": NOW}
    key = "22222222-2222-2222-2222-222222222222"
    theme = Theme.objects.create(title="Theirs", key=key, **shared)
    send("reword", what="theme", row=theme.key, was="Theirs", text="Mine")
    send("note", text="a", theme=theme.key)
    theme.refresh_from_db()
    assert theme.title == "Theirs"
    assert notes(session) == [("a", "")]
