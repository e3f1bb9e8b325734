"""Two note-takers at once do not overwrite each other, and what is sent twice counts once."""

from __future__ import annotations

import uuid

from django.db import connection

from sessions.desk.changes import changes_since
from sessions.desk.clock import MINUTE
from sessions.desk.entries import read_entry
from sessions.desk.taking_in import take_in
from sessions.models import Desk, Note, Statement
from tests.conftest import NOW
from tests.followups.threads import at_once

from .conftest import notes, themes, votes


def test_two_wordings_of_one_note_are_both_kept_side_by_side(cast, session, send):
    theme = send("theme", text="Waiting")
    note = send("note", text="it takes long", theme=theme, now=NOW - MINUTE)
    send("note", text="another", theme=theme)
    was = {"what": "note", "row": note, "was": "it takes long"}
    send("reword", text="it takes two weeks", **was)
    send("reword", by=cast.owner, text="it takes ages", **was)
    texts = [text for text, _ in notes(session)]
    assert texts == ["it takes two weeks", "it takes ages", "another"]
    second = Note.objects.get(text="it takes ages")
    assert second.beside == Note.objects.get(key=note)
    assert (second.by, second.theme.title) == (cast.owner, "Waiting")
    send("both", what="note", row=second.key)
    second.refresh_from_db()
    assert second.beside is None


def test_the_same_wording_of_two_is_one(cast, session, send):
    note = send("note", text="it takes long")
    for by in (cast.member, cast.owner):
        send("reword", by=by, what="note", row=note, was="it takes long", text="it takes ages")
    assert notes(session) == [("it takes ages", "")]


def test_who_moves_a_note_does_not_disturb_who_rewords_it(session, send):
    theme = send("theme", text="Waiting")
    note = send("note", text="it takes long")
    send("move", row=note, theme=theme)
    send("reword", what="note", row=note, was="it takes long", text="it takes ages")
    assert notes(session) == [("it takes ages", "Waiting")]


def test_two_questions_from_one_note_are_both_kept(cast, send):
    note = send("note", text="it takes long")
    send("question", row=note, was="", text="How could it be quick?")
    send("question", by=cast.owner, row=note, was="How else?", text="Who could sign?")
    asked = list(Note.objects.opportunities().values_list("text", "opportunity"))
    assert asked == [
        ("it takes long", "How could it be quick?"),
        ("it takes long", "Who could sign?"),
    ]


def test_two_wordings_of_a_statement_are_both_kept_and_the_votes_stay(cast, session, steps, send):
    row = send("statement", text="near", step=steps[2].pk)
    send("votes", row=row, shown="0", votes="4")
    send("reword", what="statement", row=row, was="near", text="we are near")
    send("reword", by=cast.owner, what="statement", row=row, was="near", text="close by")
    assert votes(session) == [("we are near", 4), ("close by", 0)]
    assert Statement.objects.get(text="close by").beside.text == "we are near"


def test_a_theme_renamed_by_two_carries_both_titles(cast, session, send):
    theme = send("theme", text="Waiting")
    send("reword", what="theme", row=theme, was="Waiting", text="Long waits")
    send("reword", by=cast.owner, what="theme", row=theme, was="Waiting", text="Slow answers")
    assert themes(session) == ["Long waits / Slow answers"]


def test_whatever_is_sent_again_counts_once(session, steps, send):
    theme = send("theme", text="Waiting")
    note = send("note", text="a", theme=theme)
    row = send("statement", text="near", step=steps[2].pk)
    counted = send("votes", row=row, shown="0", votes="2")
    reworded = send("reword", what="note", row=note, was="a", text="b")
    send("reword", what="note", row=note, was="b", text="c")
    number = Desk.objects.get().changed
    send("theme", key=theme, text="Waiting")
    send("note", key=note, text="a", theme=theme)
    send("statement", key=row, text="near", step=steps[2].pk)
    send("votes", key=counted, row=row, shown="0", votes="2")
    send("reword", key=reworded, what="note", row=note, was="a", text="b")
    assert (themes(session), notes(session)) == (["Waiting"], [("c", "Waiting")])
    assert votes(session) == [("near", 2)]
    assert Desk.objects.get().changed == number


def test_what_was_refused_may_be_sent_again_and_does_not_hold_up_the_rest(cast, session):
    def entry(**fields):
        return read_entry({"kind": "note", "key": str(uuid.uuid4()), **fields}, NOW)

    entries = [entry(text="one"), entry(text=""), entry(text="two"), entry(text="one")]
    for _ in range(2):
        refused = take_in(session=session, member=cast.member, now=NOW, entries=entries)
        assert [refusal.key for refusal in refused] == [entries[1].key]
    assert [text for text, _ in notes(session)] == ["one", "two", "one"]


def test_whoever_asks_what_changed_is_told_each_row_and_no_row_too_little(session, send):
    seen, heard = 0, []
    for n in range(6):
        if n % 2:
            told = changes_since(session, seen)
            heard += [row["text"] for row in told["notes"]]
            seen = told["changed"]
        send("note", text=str(n))
    told = changes_since(session, seen)
    heard += [row["text"] for row in told["notes"]]
    assert heard == [str(n) for n in range(6)]
    assert changes_since(session, told["changed"]) == {"changed": told["changed"]}


def test_a_number_from_another_time_of_the_database_gets_everything(session, send):
    send("note", text="a")
    assert [row["text"] for row in changes_since(session, 999)["notes"]] == ["a"]


def test_two_who_send_at_the_same_moment_lose_nothing_and_share_no_number(
    transactional_db, cast, session, steps
):
    lines = {who: [str(uuid.uuid4()) for _ in range(20)] for who in ("member", "owner")}

    def sends(who: str):
        def run() -> None:
            for n, key in enumerate(lines[who]):
                said = {"kind": "note", "key": key, "text": f"{who} {n}"}
                entry = read_entry(said, NOW)
                for _ in range(2):
                    take_in(session=session, member=getattr(cast, who), now=NOW, entries=[entry])

        return run

    assert at_once(sends("member"), sends("owner"), sends("member")) == []
    connection.close()
    for who in lines:
        own = [text for text, _ in notes(session) if text.startswith(who)]
        assert own == [f"{who} {n}" for n in range(20)]
    numbers = list(Note.objects.values_list("changed", flat=True))
    assert sorted(numbers) == list(range(1, 41))
    assert Desk.objects.get().changed == 40
