"""Programs that the rig starts, each in a process group of its own, and ends."""

from __future__ import annotations

import os
import socket
import subprocess
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from signal import SIGKILL, SIGTERM, Signals
from typing import TypeVar

T = TypeVar("T")

ROOT = Path(__file__).resolve().parents[2]


class Broken(Exception):
    """The rig itself could not go on; says why."""


def free_port() -> int:
    """Return a port on which nothing listens now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def wait_for(what: str, found: Callable[[], T], *, seconds: float = 120) -> T:
    """Ask until the answer is true, and return it; raise ``Broken`` where it never is."""
    until = time.monotonic() + seconds
    while not (answer := found()):
        if time.monotonic() > until:
            raise Broken(f"{what}: not within {seconds:.0f} s")
        time.sleep(0.02)
    return answer


class Program:
    """A running program; what it says goes to a log of its name."""

    def __init__(
        self,
        name: str,
        command: Sequence[str | Path],
        folder: Path,
        *,
        env: Mapping[str, str] | None = None,
        user: int | None = None,
        hears: bool = False,
    ) -> None:
        self.name = name
        self._gone = False
        self.log = folder / f"{name}.log"
        # setgroups is for root alone
        other = {"user": user, "extra_groups": []} if user is not None else {}
        with self.log.open("ab") as said:
            self._begun = said.tell()
            self.process = subprocess.Popen(
                command,
                cwd=ROOT,
                env=env,
                stdin=subprocess.PIPE if hears else subprocess.DEVNULL,
                stdout=said,
                stderr=said,
                text=True,
                start_new_session=True,
                **other,
            )

    def tell(self, line: str) -> None:
        """Write a line to what it reads."""
        assert self.process.stdin is not None
        try:
            self.process.stdin.write(line + "\n")
            self.process.stdin.flush()
        except BrokenPipeError:
            raise Broken(f"{self.name} ended by itself: {self.last_words()}") from None

    def signal(self, number: Signals) -> None:
        """Send a signal to the first process alone."""
        with suppress(ProcessLookupError):
            self.process.send_signal(number)

    def kill(self) -> None:
        """``kill -9`` the whole group, and return once it is gone."""
        if self._gone:
            # Somebody else may have its number by now.
            return
        with suppress(ProcessLookupError):
            os.killpg(self.process.pid, SIGKILL)
        self.process.wait()
        wait_for(f"the end of {self.name}", lambda: not self._group_lives(), seconds=20)
        self._gone = True

    def stop(self, number: Signals = SIGTERM, *, seconds: float = 60) -> None:
        """Ask it to end, and return once it has with all its children."""
        self.signal(number)
        with suppress(subprocess.TimeoutExpired):
            self.process.wait(seconds)
        self.kill()

    def children(self) -> list[int]:
        """Return the processes that the first one has started itself."""
        listed = Path(f"/proc/{self.process.pid}/task/{self.process.pid}/children")
        with suppress(OSError):
            return [int(pid) for pid in listed.read_text().split()]
        return []

    def has_said(self, line: str) -> bool:
        """Tell whether it has written this line since it was started."""
        with self.log.open(errors="replace") as said:
            said.seek(self._begun)
            return f"\n{line}\n" in "\n" + said.read()

    def last_words(self, lines: int = 12) -> str:
        """Return the end of what it said."""
        return "\n".join(self.log.read_text(errors="replace").splitlines()[-lines:])

    def _group_lives(self) -> bool:
        try:
            os.killpg(self.process.pid, 0)
        except ProcessLookupError:
            return False
        return True
