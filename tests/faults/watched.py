"""The mail server and whoever uses the app, with all that they note, read into a ledger."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from .ledger import Arrival, Ledger
from .processes import Program, wait_for
from .rig import Rig


class Lines:
    """The lines of JSON that another process writes to a file, each read once."""

    def __init__(self, path: Path) -> None:
        path.touch()
        self._file = path.open()
        self._half = ""

    def new(self) -> Iterator[dict[str, Any]]:
        """Return what was written since the last call, whole lines only."""
        text = self._half + self._file.read()
        *lines, self._half = text.split("\n")
        for line in lines:
            if line.startswith("{"):
                yield json.loads(line)


class Sink:
    """The mail server: a port for each slot."""

    def __init__(
        self, rig: Rig, folder: Path, *, slots: int, slow: float = 0, troubled: bool = False
    ) -> None:
        log = folder / "taken.jsonl"
        self._lines = Lines(log)
        # Connection by connection, which worker it belongs to.
        self._open: dict[int, int] = {}
        self._ports: list[int] = []
        self.program = Program(
            "sink",
            [
                *(sys.executable, "-m", "tests.faults.sink", log, str(slots), str(rig.seed)),
                *(str(slow), "troubled" if troubled else "patient"),
            ],
            folder,
            env=rig.env(),
        )
        rig.ending.callback(self.program.kill)
        self.ledger = Ledger()
        wait_for("the mail server", self._listens)

    def url(self, slot: int) -> str:
        """Return where the worker of a slot hands letters in."""
        return f"smtp://127.0.0.1:{self._ports[slot]}"

    def read(self) -> Ledger:
        """Return the ledger with all that was taken by now."""
        for line in self._lines.new():
            match line["event"]:
                case "listening":
                    self._ports = line["ports"]
                case "open":
                    self._open[line["line"]] = line["slot"]
                case "closed":
                    del self._open[line["line"]]
                case "taken":
                    self.ledger.arrived.append(
                        Arrival(line["to"], line["id"], line["slot"], line["unanswered"])
                    )
        return self.ledger

    def lines(self, slot: int | None = None) -> set[int]:
        """Return the open connections, of one worker or of all."""
        self.read()
        return {line for line, of in self._open.items() if slot in (None, of)}

    def _listens(self) -> bool:
        self.read()
        return bool(self._ports)


class Hand:
    """Whoever uses the app; what was stored of it is promised."""

    def __init__(self, rig: Rig, folder: Path, ledger: Ledger, env: dict[str, str]) -> None:
        self._ledger = ledger
        self._asked = self._done = 0
        self._program = Program(
            "hand", [sys.executable, "-m", "tests.faults.hand"], folder, env=env, hears=True
        )
        rig.ending.callback(self._program.kill)
        self._lines = Lines(self._program.log)

    def ask(self, what: str) -> None:
        """Have something done; does not wait for it."""
        self._asked += 1
        self._program.tell(what)

    def finish(self) -> None:
        """Wait until all that was asked for is done."""
        wait_for("whoever uses the app", self.idle, seconds=180)

    def idle(self) -> bool:
        """Tell whether all is done that was asked for."""
        self.read()
        return self._done == self._asked

    def read(self) -> None:
        """Read what was noted by now."""
        for line in self._lines.new():
            if "promised" in line:
                self._ledger.promised.add(line["promised"])
            elif "never" in line:
                self._ledger.never.add(line["never"])
            elif "done" in line:
                self._done += 1
