"""PostgreSQL: dumped and restored by its own programs, as the owner of the tables."""

from __future__ import annotations

import os
import re
import secrets
import shutil
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import psycopg
from django.conf import settings
from django.db import connection
from psycopg import sql
from psycopg.conninfo import make_conninfo

from pipeline.teams.refused import Refused

from .archive import DAMAGED
from .contents import Ask, Columns, rows
from .manifest import Manifest

MEMBER = "database.dump"
COLUMNS = (
    "SELECT table_name, column_name FROM information_schema.columns JOIN information_schema.tables"
    " USING (table_schema, table_name)"
    " WHERE table_schema = current_schema() AND table_type = 'BASE TABLE'"
)
OTHERS = (
    "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database()"
    " AND backend_type = 'client backend' AND pid <> pg_backend_pid()"
)
OWNS = (
    "SELECT bool_and(pg_has_role(current_user, relowner, 'USAGE')) FROM pg_class"
    " WHERE relnamespace = current_schema()::regnamespace AND relkind = 'r'"
)
EXTENSIONS = "SELECT extname FROM pg_extension WHERE extnamespace = current_schema()::regnamespace"
# Where Debian has the programs of each version.
DEBIAN = "/usr/lib/postgresql/{}/bin"

# Seconds that a connection may take to end.
PATIENCE = 2

Say = Callable[[str], None]


def version() -> tuple[int, str]:
    """Return the server's major version, and the schema in which the tables are."""
    with _connected() as asked:
        schema = _one(asked, "SELECT current_schema()")
        return asked.info.server_version // 10000, str(schema)


def columns(ask: Ask) -> Columns:
    """Return the tables and columns that are there."""
    return {(table, column) for table, column in ask(COLUMNS)}


@contextmanager
def dumped(folder: Path, say: Say, programs: Path | None) -> Iterator[tuple[Path, Ask]]:
    """Dump the database as it is at one moment; return the dump, and whom to ask about it.

    Who is asked sees that very moment.
    """
    with _connected() as seen:
        _refuse_bound(seen)
        server, schema = version()
        seen.execute("BEGIN ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        moment = _one(seen, "SELECT pg_export_snapshot()")
        dump = folder / MEMBER
        _run(
            _program("pg_dump", server, programs),
            "--format=custom",
            "--no-owner",
            # Who may what is set anew by each migration (pipeline/locks).
            "--no-privileges",
            f'--schema="{schema}"',
            f"--snapshot={moment}",
            f"--file={dump}",
        )
        yield dump, _asking(seen)


@contextmanager
def there() -> Iterator[Ask | None]:
    """Give whom to ask about the present database."""
    with _connected() as present:
        yield _asking(present)


def staging() -> Path | None:
    """Return nothing: the new database waits in the server."""
    return None


def refuse_here(manifest: Manifest) -> None:
    """Refuse where this server, or this login, can't take the backup."""
    server, schema = version()
    if server < manifest.server:
        raise Refused(
            f"The backup comes from PostgreSQL {manifest.server}, and this server is of version "
            f"{server}; restore it on one that is as new."
        )
    if schema != manifest.schema:
        raise Refused(
            f"The backup's tables were in the schema {manifest.schema}, and here they are in "
            f"{schema}; let the login's search_path begin with {manifest.schema}."
        )
    # Ours are no others'.
    ours: Any = connection
    ours.close()
    ours.close_pool()
    with _connected() as asked:
        _refuse_bound(asked)
        if others := _others(asked):
            raise Refused(
                f"{others} other connection{'s are' if others > 1 else ' is'} open to the "
                "database: stop the web, the workers and the beat, then restore."
            )
        extensions = [name for (name,) in asked.execute(EXTENSIONS).fetchall()]
        if extensions:
            raise Refused(
                f"The extension {extensions[0]} lies in the schema {schema}, which is made anew: "
                f"move it first, by CREATE SCHEMA extensions; ALTER EXTENSION {extensions[0]} "
                "SET SCHEMA extensions."
            )


@contextmanager
def switched(
    staged: Path, manifest: Manifest, migrate: Callable[[], None], programs: Path | None
) -> Iterator[None]:
    """Restore into a schema of the old one's name, and migrate it.

    The old one is kept aside until the block is over, and comes back where anything fails.
    """
    with _connected() as admin:
        server, name = version()
        restore = _program("pg_restore", server, programs)
        # Once to nowhere: it reads all of the dump.
        _run(restore, "--file=/dev/null", str(staged), connect=False)
        schema, aside = sql.Identifier(name), sql.Identifier(f"aside_{secrets.token_hex(6)}")
        admin.execute(sql.SQL("ALTER SCHEMA {} RENAME TO {}").format(schema, aside))
        try:
            _run(
                restore,
                "--exit-on-error",
                "--single-transaction",
                "--no-owner",
                "--no-privileges",
                str(staged),
            )
            ask = _asking(admin)
            if rows(ask, columns(ask)) != manifest.rows:
                raise Refused(DAMAGED.format("its database is not what its list says"))
            migrate()
            yield
        except BaseException:
            connection.close()
            admin.execute(sql.SQL("DROP SCHEMA IF EXISTS {} CASCADE").format(schema))
            admin.execute(sql.SQL("ALTER SCHEMA {} RENAME TO {}").format(aside, schema))
            raise
        admin.execute(sql.SQL("DROP SCHEMA {} CASCADE").format(aside))


def _address() -> tuple[str, str]:
    """Return how the database is reached, and apart from it the password."""
    given = connection.settings_dict
    options = {k: v for k, v in given["OPTIONS"].items() if k != "pool"}
    keys = {"dbname": "NAME", "user": "USER", "host": "HOST", "port": "PORT"}
    place = {key: given[name] for key, name in keys.items() if given[name]}
    return make_conninfo(**{**options, **place}), given["PASSWORD"]


def _connected() -> psycopg.Connection[Any]:
    address, password = _address()
    return psycopg.connect(address, password=password or None, autocommit=True)


def _one(asked: psycopg.Connection[Any], question: str) -> Any:
    row = asked.execute(question).fetchone()
    return row[0] if row else None


def _asking(asked: psycopg.Connection[Any]) -> Ask:
    return lambda question: asked.execute(question).fetchall()


def _others(asked: psycopg.Connection[Any]) -> int:
    """Count the other connections; one that was just closed the server still ends."""
    until = time.monotonic() + PATIENCE
    while (found := int(_one(asked, OTHERS))) and time.monotonic() < until:
        time.sleep(0.1)
    return found


def _refuse_bound(asked: psycopg.Connection[Any]) -> None:
    if asked.info.user == settings.APP_ROLE or _one(asked, OWNS) is False:
        raise Refused(
            "The login of DATABASE_URL sees the rows of one team at a time; for this name the "
            "login that owns the tables, as for migrations."
        )


def _program(name: str, server: int, programs: Path | None) -> str:
    """Find a program that is at least as new as the server."""
    folders = [str(programs)] if programs else [None, DEBIAN.format(server)]
    found = [path for folder in folders if (path := shutil.which(name, path=folder))]
    for path in found:
        said = subprocess.run([path, "--version"], capture_output=True, text=True, check=False)
        told = re.search(r"\) (\d+)", said.stdout)
        if told and int(told[1]) >= server:
            return path
    what = f"too old is {found[0]}" if found else "none is found"
    raise Refused(
        f"The server needs {name} of version {server} or later, and {what}: install "
        f"postgresql-client-{server}, or name its folder with --programs."
    )


def _run(program: str, *words: str, connect: bool = True) -> None:
    """Run a program; the password goes by its environment, where no list of processes shows it."""
    address, password = _address()
    environment = dict(os.environ) | ({"PGPASSWORD": password} if password else {})
    where = [f"--dbname={address}"] if connect else []
    ran = subprocess.run(
        [program, *where, *words],
        env=environment,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )
    if ran.returncode:
        lines = ran.stderr.strip().splitlines() or ["it said nothing"]
        said = next((line for line in lines if "error:" in line), lines[0])
        raise Refused(f"{Path(program).name} failed, and nothing was changed: {said[:300]}")
