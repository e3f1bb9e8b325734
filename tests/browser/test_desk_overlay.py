"""What waits in a browser shows at once as the server will take it in."""

from __future__ import annotations

import random
import uuid

import pytest

from sessions.desk.changes import changes_since
from sessions.desk.entries import read_entry
from sessions.desk.taking_in import take_in
from sessions.models import Catch, Step
from tests.browser.desks import booked_hour
from tests.conftest import NOW

pytestmark = pytest.mark.browser

ASK = """async (all) => {
  const { Rows } = await import("/static/desk/caught.js");
  return all.map(([told, waiting]) => {
    const known = new Rows();
    known.take(told);
    const rows = known.with(waiting);
    const standing = new Set(rows.themesInOrder().map((theme) => theme.key));
    const under = (note) => (standing.has(rows.theme(note.theme)) ? rows.theme(note.theme) : "");
    return {
      themes: rows.themesInOrder().map((row) => [row.key, row.title]),
      notes: rows.kept("notes").map((row) => [row.key, row.text, row.opportunity, under(row)]),
      statements: rows.kept("statements").map((row) => [row.key, row.text, row.votes]),
    };
  });
}"""


class Typist:
    """Types entries one after the other, each about what stands there by then."""

    def __init__(self, chance: random.Random, step: Step) -> None:
        self.chance, self.step, self.at = chance, step, round(NOW.timestamp() * 1000) - 100_000
        self.keys: dict[str, list[str]] = {"theme": [], "note": [], "statement": []}

    def entry(self) -> dict[str, str]:
        """Return one more entry."""
        kinds = "theme note note note statement statement move merge votes votes question let-go"
        kind = self.chance.choice([*kinds.split(), "take-back", "reword"])
        key = str(uuid.UUID(int=self.chance.getrandbits(128), version=4))
        self.at += self.chance.randint(1, 900)
        made = {"kind": kind, "key": key, "at": str(self.at)}
        what = self.chance.choice(["theme", "note", "statement"])
        match kind:
            case "theme" | "note" | "statement":
                made |= {"text": f"{kind} {self.chance.randint(1, 12)}", "theme": self.a("theme")}
                made |= {"step": str(self.step.pk)}
                self.keys[kind].append(key)
            case "move" | "question":
                made |= {"row": self.a("note"), "theme": self.a("theme"), "was": ""}
                made |= {"text": "How else?"}
            case "merge":
                made |= {"row": self.a("theme"), "theme": self.a("theme")}
            case "votes":
                made |= {"row": self.a("statement"), "shown": str(self.chance.randint(0, 3))}
                made |= {"votes": str(self.chance.randint(0, 5))}
            case "reword":
                made |= {"what": "note", "row": self.a("note"), "was": "", "text": ""}
            case _:
                made |= {"what": what, "row": self.a(what)}
        return made

    def a(self, what: str) -> str:
        """Return the key of one that was typed before, or of none."""
        return self.chance.choice([*self.keys[what], ""])


def in_server(told: dict) -> dict:
    """Return what a desk shows of everything that the server tells."""
    themes = sorted(
        (t for t in told["themes"] if not t["let_go"]), key=lambda t: (t["position"], t["at"])
    )
    standing = {theme["key"] for theme in themes}

    def kept(kind: str) -> list[dict]:
        rows = [row for row in told[kind] if not row["let_go"]]
        return sorted(rows, key=lambda row: (row["at"], row["order"]))

    return {
        "themes": [[t["key"], t["title"]] for t in themes],
        "notes": [
            [n["key"], n["text"], n["opportunity"], n["theme"] if n["theme"] in standing else ""]
            for n in kept("notes")
        ],
        "statements": [[s["key"], s["text"], s["votes"]] for s in kept("statements")],
    }


def test_what_waits_shows_as_it_will_be_taken_in(equipped, window):
    cases, expected = [], []
    for seed in range(40):
        chance = random.Random(seed)
        session = booked_hour(equipped)
        step = session.format.steps.filter(catches=Catch.STATEMENTS).first()
        typist = Typist(chance, step)
        entries = [typist.entry() for _ in range(40)]
        cut = chance.randint(0, 30)

        def send(some: list[dict], session=session) -> set[str]:
            read = [read_entry(entry, NOW) for entry in some]
            refused = take_in(session=session, member=equipped.member, now=NOW, entries=read)
            return {str(refusal.key) for refusal in refused}

        send(entries[:cut])
        told = changes_since(session, 0)
        refused = send(entries[cut:])
        cases.append([told, [e for e in entries[cut:] if e["key"] not in refused]])
        expected.append(in_server(changes_since(session, -1)))
    page = window(equipped.member)
    page.goto("/t/harbour/")
    assert page.evaluate(ASK, cases) == expected
    assert sum(len(shown["notes"]) for shown in expected) > 100
