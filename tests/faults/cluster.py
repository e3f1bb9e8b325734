"""A PostgreSQL cluster of the rig's own: made in a folder, stopped hard, started again."""

from __future__ import annotations

import os
import pwd
import shutil
import signal
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

import psycopg

from .processes import Broken, Program, free_port, wait_for

LOCAL = "local all all trust\n"
EVERYONE = LOCAL + "host all all 127.0.0.1/32 trust\n"


def program(name: str) -> Path:
    """Return where a program of PostgreSQL lies; ``Broken`` where there is none."""
    beside = sorted(
        Path("/usr/lib/postgresql").glob(f"*/bin/{name}"),
        key=lambda path: int(path.parts[-3]) if path.parts[-3].isdecimal() else 0,
    )
    found = shutil.which(name) or (beside[-1] if beside else None)
    if found is None:
        raise Broken(f"{name} is missing: install PostgreSQL's server (14 or newer)")
    return Path(found).resolve()


def unprivileged() -> int | None:
    """Return as whom to run the server, which refuses root; ``None``: as we are."""
    if os.geteuid() != 0:
        return None
    for name in ("postgres", "nobody"):
        with suppress(KeyError):
            return pwd.getpwnam(name).pw_uid
    raise Broken("PostgreSQL does not run as root, and there is no user postgres or nobody")


class Cluster:
    """The rig comes in by a socket, the app by TCP: so the app can be kept out for a moment."""

    def __init__(self, folder: Path) -> None:
        self.port = free_port()
        self._logs = folder
        self._folder = folder / "postgres"
        self._folder.mkdir()
        self._user = unprivileged()
        if self._user is not None:
            os.chown(self._folder, self._user, -1)
        self._data = self._folder / "data"
        self._postgres = program("postgres")
        made = Program(
            "initdb",
            [
                program("initdb"),
                *("--pgdata", self._data, "--username", "postgres", "--auth", "trust"),
                *("--encoding", "UTF8", "--no-locale", "--no-sync"),
            ],
            folder,
            user=self._user,
        )
        if made.process.wait() != 0:
            raise Broken(f"initdb failed: {made.last_words()}")
        self._server: Program | None = None
        self._connections: dict[str, psycopg.Connection[tuple[Any, ...]]] = {}

    def start(self, *, closed: bool = False) -> None:
        """Start the server; ``closed``: for the rig alone, until it is opened."""
        self._let_in(LOCAL if closed else EVERYONE)
        settings = {
            "port": self.port,
            "listen_addresses": "127.0.0.1",
            "unix_socket_directories": self._folder,
            "max_connections": 80,
            "shared_buffers": "64MB",
            # leaves nothing outside the folder
            "dynamic_shared_memory_type": "mmap",
            "log_min_messages": "fatal",
        }
        options = [f"-c{name}={value}" for name, value in settings.items()]
        self._server = Program(
            "postgres",
            [self._postgres, "-D", self._data, *options],
            self._logs,
            user=self._user,
        )
        wait_for("PostgreSQL", self._answers)

    def open(self) -> None:
        """Let the app in again."""
        assert self._server is not None
        self._let_in(EVERYONE)
        self._server.signal(signal.SIGHUP)

    def stop_hard(self) -> None:
        """End every process of the server at once, without a word to whoever is connected."""
        self._end(signal.SIGQUIT)

    def stop(self) -> None:
        """Stop the server in good order."""
        self._end(signal.SIGINT)

    def url(self, database: str, name: str) -> str:
        """Return where the app finds a database; ``name``: which program it is that comes."""
        return (
            f"postgres://postgres@127.0.0.1:{self.port}/{database}"
            f"?application_name={name}&connect_timeout=5"
        )

    def ask(
        self, database: str, question: str, values: Sequence[Any] = ()
    ) -> list[tuple[Any, ...]]:
        """Run one statement as the rig; returns the rows, if it has some."""
        connection = self._connection(database)
        cursor = connection.execute(question, values)
        return cursor.fetchall() if cursor.description else []

    def make(self, database: str, like: str = "template1") -> None:
        """Make a database, a copy of another one."""
        if self._server is None:
            # An earlier fault ended in the middle.
            self.start()
        self.ask("postgres", f'CREATE DATABASE "{database}" TEMPLATE "{like}"')

    def _connection(self, database: str) -> psycopg.Connection[tuple[Any, ...]]:
        held = self._connections.get(database)
        if held is None or held.closed:
            held = self._connections[database] = psycopg.connect(
                host=str(self._folder),
                port=self.port,
                user="postgres",
                dbname=database,
                application_name="rig",
                autocommit=True,
            )
        return held

    def _answers(self) -> bool:
        assert self._server is not None
        if self._server.process.poll() is not None:
            raise Broken(f"PostgreSQL did not start: {self._server.last_words()}")
        with suppress(psycopg.Error):
            return bool(self.ask("postgres", "SELECT 1"))
        return False

    def _let_in(self, whom: str) -> None:
        (self._data / "pg_hba.conf").write_text(whom)

    def _end(self, how: signal.Signals) -> None:
        for connection in self._connections.values():
            connection.close()
        if self._server is not None:
            self._server.stop(how)
            self._server = None


def tools() -> None:
    """Raise ``Broken`` with one line where a program is missing that the rig needs."""
    program("initdb")
    program("postgres")
    if shutil.which("redis-server") is None:
        raise Broken("redis-server is missing: install Redis (6 or newer)")
