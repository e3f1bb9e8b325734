"""What an invented crew caught at the desk, and how its hour ran."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from datetime import datetime, timedelta
from random import Random

from pipeline.teams.models import Member
from sessions.desk.entries import Entry
from sessions.desk.taking_in import take_in
from sessions.models import Catch, DiscoverySession, Step

THEMES = {
    "Waiting": [
        "Two weeks for one signature",
        "Nobody can say how far a request has come",
        "Whoever calls twice is served first",
        "The board meets six times a year, and everything waits for it",
    ],
    "Who knows what": [
        "One person knows how it works, and she retires in spring",
        "Every department keeps a list of its own",
        "The newcomers ask the newcomers",
    ],
    "Paper": [
        "The form is printed, signed, scanned and printed again",
        "Four copies, and nobody reads the fourth",
        "Corrections are made by hand and never reach the file",
    ],
    "Words": [
        "We say “urgent” to everything",
        "The letter is correct and nobody understands it",
    ],
}
QUESTIONS = {
    "Two weeks for one signature": "How could a request need no signature at all?",
    "Every department keeps a list of its own": "How could one list serve everybody?",
    "The letter is correct and nobody understands it": "How could one read it once and know?",
}
# By how the step's prompt begins; any other gets the last.
STATEMENTS = {
    "Our customers": [
        "somebody picks up the phone",
        "we know their names",
        "we tell them what it costs",
        "we repair what others throw away",
        "we say so when we can't help",
    ],
    "A year from now": [
        "an answer on the same day",
        "one list that everybody trusts",
        "a letter that nobody has to call about",
        "holidays without a telephone",
    ],
    "": [
        "nobody knew who decides",
        "the money was promised and did not come",
        "we asked those who shout and not those who wait",
        "the last attempt was ours alone",
        "there was no day on which it had to be done",
    ],
}


def run_at_desk(session: DiscoverySession, member: Member, random: Random) -> None:
    """Run a session as if somebody had: every step in turn, with what it catches."""
    if session.starts_at is None or session.format is None:
        return
    steps = list(session.format.steps.all())
    entries = list(_hour(session.starts_at, steps, random))
    take_in(session=session, member=member, now=entries[-1].at, entries=entries)


def _entry(random: Random, kind: str, at: datetime, **said: object) -> Entry:
    key = uuid.UUID(int=random.getrandbits(128), version=4)
    return Entry(kind, key, at, {name: str(value) for name, value in said.items()})


def _hour(at: datetime, steps: list[Step], random: Random) -> Iterator[Entry]:
    talk = iter(random.sample(sorted(THEMES), 3))
    said: list[Entry] = []
    yield _entry(random, "press", at, press="start")
    for number, step in enumerate(steps):
        took = step.minutes * 60 * random.uniform(0.7, 1.35)
        caught: list[Entry] = []
        if step.catches == Catch.THEMES and (title := next(talk, None)):
            caught = list(_theme(at, title, step, random))
        elif step.catches == Catch.STATEMENTS:
            answers = next(a for begins, a in STATEMENTS.items() if step.prompt.startswith(begins))
            chosen = random.sample(answers, random.randint(3, len(answers)))
            caught = [_entry(random, "statement", at, text=t, step=step.pk) for t in chosen]
            said += caught
        elif step.catches == Catch.VOTES:
            caught = [
                _entry(random, "votes", at, row=e.key, shown=0, votes=random.choice([0, 1, 2, 5]))
                for e in said
            ]
        yield from caught
        at += timedelta(seconds=round(took))
        last = number + 1 == len(steps)
        yield _entry(random, "press", at, press="end" if last else "next", step=step.pk)


def _theme(at: datetime, title: str, step: Step, random: Random) -> Iterator[Entry]:
    theme = _entry(random, "theme", at, text=title)
    yield theme
    for text in THEMES[title]:
        note = _entry(random, "note", at, text=text, theme=theme.key, step=step.pk)
        yield note
        if text in QUESTIONS:
            yield _entry(random, "question", at, row=note.key, was="", text=QUESTIONS[text])
