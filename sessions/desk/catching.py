"""Themes, notes, statements and votes: what each entry does.

Several people write at once. What they add stands side by side; counts are sent as differences;
and a text that two reword at once is kept in both wordings.
"""

from __future__ import annotations

from django.db.models import Max

from pipeline.teams.refused import Refused
from sessions.models import Note, Statement, Theme
from sessions.models.caught import LONGEST_TITLE, Caught

from .entries import Entry
from .hand import Hand

MOST_VOTES = 10_000


def open_theme(hand: Hand, entry: Entry) -> None:
    """Open a theme; one with the same title that is open already takes its place."""
    title = " ".join(entry.text(longest=LONGEST_TITLE).split())
    themes = Theme.objects.for_team(hand.session.team).filter(session=hand.session)
    same = themes.kept().filter(title__iexact=title).first()
    last = themes.aggregate(last=Max("position"))["last"] or 0
    theme = Theme(title=title, position=last + 1, let_go=bool(same), merged_into=same)
    hand.add(_signed(theme, hand, entry))


def catch_note(hand: Hand, entry: Entry) -> None:
    """Catch what was said, under a theme or under none yet."""
    text, theme = entry.text(), hand.theme(entry.key_of("theme"))
    note = Note(text=text, theme=theme, step=hand.step(entry.said.get("step", "")))
    hand.add(_signed(note, hand, entry))


def catch_statement(hand: Hand, entry: Entry) -> None:
    """Catch an answer to the prompt of a step."""
    text, step = entry.text(), hand.step(entry.said.get("step", ""))
    if step is None:
        raise Refused("Choose the prompt that this answers.", "step")
    hand.add(_signed(Statement(text=text, step=step), hand, entry))


def reword(hand: Hand, entry: Entry) -> None:
    """Write a text anew. Where somebody else did so meanwhile, both wordings are kept."""
    row = hand.row(hand.kind(entry.said.get("what", "")), entry.key_of("row"))
    if isinstance(row, Theme):
        _rename(hand, entry, row)
    elif isinstance(row, Note | Statement):
        text = entry.text()
        if row.text in (entry.was, text):
            hand.change(row, text=text)
        elif isinstance(row, Note):
            _beside(hand, entry, row, text=text)
        else:
            other = Statement(text=text, step=row.step, beside=row)
            hand.add(_signed(other, hand, entry, at=row))


def ask_as_question(hand: Hand, entry: Entry) -> None:
    """Word a note as an opportunity question; the note stays as it was said."""
    note = hand.row(Note, entry.key_of("row"))
    question = entry.text(empty=True)
    if note.opportunity in ("", entry.was, question):
        hand.change(note, opportunity=question)
    elif question:
        _beside(hand, entry, note, opportunity=question)


def move(hand: Hand, entry: Entry) -> None:
    """Put a note under another theme, or under none."""
    note = hand.row(Note, entry.key_of("row"))
    hand.change(note, theme=hand.theme(entry.key_of("theme")))


def merge(hand: Hand, entry: Entry) -> None:
    """Put all notes of a theme under another, which takes its place."""
    theme = hand.row(Theme, entry.key_of("row"))
    into = hand.theme(entry.key_of("theme"))
    if into is None or into.pk == theme.pk:
        raise Refused("Choose another theme to merge this one into.", "theme")
    hand.change_all(Note.objects.filter(theme=theme), theme=into)
    hand.change(theme, let_go=True, merged_into=into)


def count_votes(hand: Hand, entry: Entry) -> None:
    """Count votes: by how many the count differs from the one that the person saw."""
    statement = hand.row(Statement, entry.key_of("row"))
    more = entry.number("votes", 0, MOST_VOTES) - entry.number("shown", 0, MOST_VOTES)
    hand.change(statement, votes=min(max(statement.votes + more, 0), MOST_VOTES))


def let_go(hand: Hand, entry: Entry) -> None:
    """Let something go; it can be taken back. The notes of a theme stand under none then."""
    row = hand.row(hand.kind(entry.said.get("what", "")), entry.key_of("row"))
    if isinstance(row, Theme):
        hand.change_all(Note.objects.filter(theme=row), theme=None)
    hand.change(row, let_go=True)


def take_back(hand: Hand, entry: Entry) -> None:
    """Take back what was let go."""
    row = hand.row(hand.kind(entry.said.get("what", "")), entry.key_of("row"))
    if isinstance(row, Theme):
        hand.change(row, let_go=False, merged_into=None)
    else:
        hand.change(row, let_go=False)


def keep_both(hand: Hand, entry: Entry) -> None:
    """Let a second wording stand for itself."""
    row = hand.row(hand.kind(entry.said.get("what", "")), entry.key_of("row"))
    if isinstance(row, Note | Statement):
        hand.change(row, beside=None)


def _rename(hand: Hand, entry: Entry, theme: Theme) -> None:
    title = " ".join(entry.text(longest=LONGEST_TITLE).split())
    if theme.title not in (entry.was, title):
        title = f"{theme.title} / {title}"
        if len(title) > 2 * LONGEST_TITLE + 3:
            raise Refused(f"Others renamed this theme meanwhile: {theme.title}", "text")
    hand.change(theme, title=title)


def _beside(
    hand: Hand, entry: Entry, note: Note, *, text: str = "", opportunity: str = ""
) -> None:
    other = Note(
        theme=note.theme,
        step=note.step,
        text=text or note.text,
        opportunity=opportunity or note.opportunity,
        beside=note,
    )
    hand.add(_signed(other, hand, entry, at=note))


def _signed(row: Caught, hand: Hand, entry: Entry, *, at: Caught | None = None) -> Caught:
    """Return a new row with who wrote it, when, and under which key."""
    row.team, row.session, row.by = hand.session.team, hand.session, hand.member
    row.key = entry.key
    row.at = at.at if at else entry.at
    return row
