"""One machine with SQLite whose disk is full for a while, again and again."""

from __future__ import annotations

import sqlite3
import time
from contextlib import closing
from pathlib import Path

from .processes import free_port, wait_for
from .rig import Outcome, Rig
from .typist import Typist, into
from .watched import Hand, Sink
from .web_killed import answers, serve

NAME = "disk-full"
OPEN = "next_attempt_at IS NOT NULL"
HELD = f"{OPEN} AND claim IS NOT NULL"


def run(rig: Rig) -> Outcome:
    """Fill the disk while letters are sent and forms are saved, and make room again."""
    times, letters = rig.scale(10, 1), rig.scale(1000, 60)
    folder = rig.folder / "disk_full"
    folder.mkdir()
    file, full = folder / "app.sqlite3", folder / "full"
    rig.migrate(f"sqlite:///{file}")
    sink = Sink(rig, folder, slots=1, slow=0.05)
    port = free_port()
    env = rig.env(
        DATABASE_URL=f"sqlite:///{file}",
        EMAIL_URL=sink.url(0),
        PORT=str(port),
        FAULTS_FULL=str(full),
    )
    hand = Hand(rig, folder, sink.ledger, env)
    hand.ask("team")
    hand.finish()
    web = serve(rig, folder, env, "tests/faults/web.py")
    url = f"http://127.0.0.1:{port}"
    wait_for("the web server", lambda: answers(url))
    typist = Typist("typist", url, rig.seed)
    typist.start()
    for struck in range(1, times + 1):
        hand.ask(f"letters {letters * struck // times}")
        wait_for("a letter on its way", sink.lines)
        time.sleep(rig.chance.random())
        full.touch()
        # Once longer than the program waits for a mark to be taken, where there is time for it.
        time.sleep(20 if struck % 5 == 0 else 1 + rig.chance.random() * 2)
        strike(sink, file)
        full.unlink()
        rig.say(f"{struck} times full, {len(sink.ledger.arrived)} letters taken")
    hand.finish()
    typist.end()
    until = time.monotonic() + 180
    while rows(file, f"SELECT 1 FROM mail_letter WHERE {OPEN}") and time.monotonic() < until:
        held = len(rows(file, f"SELECT 1 FROM mail_letter WHERE {HELD}"))
        if held == len(rows(file, f"SELECT 1 FROM mail_letter WHERE {OPEN}")) and not sink.lines():
            # Only what an earlier round still holds: end that in good order, and let it come up.
            web.stop()
            change(file, f"UPDATE mail_letter SET next_attempt_at = claimed_at WHERE {HELD}")
            web = serve(rig, folder, env, "tests/faults/web.py")
        time.sleep(0.5)
    web.stop()
    sink.program.stop()
    hand.read()
    forms = sink.read()
    into(forms, [typist], [name for (name,) in rows(file, "SELECT organisation FROM leads_lead")])
    return Outcome("letters, forms", times, forms.count())


def strike(sink: Sink, file: Path) -> None:
    """Tell the ledger what is not marked as sent."""
    unmarked = rows(file, 'SELECT "to" FROM mail_letter WHERE sent_at IS NULL')
    sink.read().strike([0], {to for (to,) in unmarked})


def rows(file: Path, question: str) -> list[tuple[str, ...]]:
    """Ask the file."""
    with closing(sqlite3.connect(file, timeout=20)) as db:
        return db.execute(question).fetchall()


def change(file: Path, statement: str) -> None:
    """Change the file."""
    with closing(sqlite3.connect(file, timeout=20)) as db, db:
        db.execute(statement)
