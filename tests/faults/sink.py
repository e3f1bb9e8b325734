"""A mail server that keeps count: ``python -m tests.faults.sink LOG SLOTS SEED SLOW TROUBLED``.

Listens on one port for each slot, so that the log tells which worker a letter came from. A letter
stands in the log before its acceptance is answered.
"""

from __future__ import annotations

import asyncio
import itertools
import json
import random
import signal
import sys
from collections import Counter
from email import message_from_bytes
from typing import Any, TextIO

from aiosmtpd.smtp import SMTP, Envelope, Session

from .troubles import Trouble, trouble

LONGEST_DELAY = 1.0
NUMBERS = itertools.count()


class Log:
    """Lines of JSON, each given to the system before anything else happens."""

    def __init__(self, file: TextIO) -> None:
        self._file = file

    def note(self, event: str, **values: Any) -> None:
        """Write one line."""
        self._file.write(json.dumps({"event": event, **values}) + "\n")
        self._file.flush()


class Desk:
    """Takes letters; remembers how often each one was tried."""

    def __init__(self, log: Log, seed: int, slow: float, troubled: bool) -> None:
        self._log = log
        self._seed = seed
        self._chance = random.Random(seed)
        self._slow = slow
        self._troubled = troubled
        self._tried: Counter[str] = Counter()

    def hurry(self) -> None:
        """Be slow no more."""
        self._slow = 0

    async def handle_RCPT(
        self, server: Line, session: Session, envelope: Envelope, address: str, options: list[str]
    ) -> str:
        """Decide what is to become of this try."""
        server.trouble = None
        if self._troubled:
            server.trouble = trouble(address, self._tried[address], self._seed)
            self._tried[address] += 1
        if server.trouble is Trouble.REFUSE_ADDRESS:
            return "451 try again later"
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server: Line, session: Session, envelope: Envelope) -> str:
        """Take the letter, slowly where that is wanted both before and after it is noted."""
        if server.trouble is Trouble.REFUSE_TEXT:
            return "451 try again later"
        if server.trouble is Trouble.DELAY:
            await asyncio.sleep(self._chance.random() * LONGEST_DELAY)
        await self._dawdle()
        silent = server.trouble is Trouble.SILENT
        assert isinstance(envelope.content, bytes)
        self._log.note(
            "taken",
            slot=server.slot,
            to=envelope.rcpt_tos[0],
            id=message_from_bytes(envelope.content)["Message-ID"],
            unanswered=silent,
        )
        if silent:
            server.hang_up()
        await self._dawdle()
        return "250 OK"

    async def _dawdle(self) -> None:
        if self._slow:
            await asyncio.sleep(self._chance.random() * self._slow)


class Line(SMTP):
    """One connection of a worker."""

    trouble: Trouble | None = None

    def __init__(self, desk: Desk, log: Log, slot: int) -> None:
        super().__init__(desk, hostname="sink.example", loop=asyncio.get_running_loop())
        self.slot = slot
        self._number = next(NUMBERS)
        self._noted = log

    def hang_up(self) -> None:
        """Close the connection without a word."""
        if isinstance(self.transport, asyncio.WriteTransport):
            self.transport.abort()

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        super().connection_made(transport)
        self._noted.note("open", slot=self.slot, line=self._number)

    def connection_lost(self, error: Exception | None) -> None:
        super().connection_lost(error)
        # Nothing of this connection is taken any more.
        self._noted.note("closed", line=self._number)

    async def smtp_DATA(self, arg: str) -> None:
        if self.trouble is not Trouble.CUT:
            await super().smtp_DATA(arg)
            return
        await self.push("354 go on")
        await self._reader.readline()
        self.hang_up()


async def serve(log: Log, slots: int, desk: Desk) -> None:
    """Listen until the process is ended."""
    loop = asyncio.get_running_loop()
    loop.add_signal_handler(signal.SIGUSR1, desk.hurry)
    ports = []
    for slot in range(slots):
        server = await loop.create_server(lambda slot=slot: Line(desk, log, slot), "127.0.0.1")
        ports.append(server.sockets[0].getsockname()[1])
    log.note("listening", ports=ports)
    await asyncio.Event().wait()


def main(name: str, slots: str, seed: str, slow: str, troubled: str) -> None:
    """Run the mail server."""
    with open(name, "a") as file:
        log = Log(file)
        desk = Desk(log, int(seed), float(slow), troubled == "troubled")
        asyncio.run(serve(log, int(slots), desk))


if __name__ == "__main__":
    main(*sys.argv[1:])
