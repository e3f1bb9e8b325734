"""Another database and folder of uploads, as on another machine; and what lies in one."""

from __future__ import annotations

import os
import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from hashlib import sha256
from pathlib import Path

import psycopg
from django.conf import settings
from django.db import connection

from pipeline.exchange.backup.engine import engine
from tests.postgres import address

ON_SERVER = connection.vendor == "postgresql"
GONE = "SELECT pg_terminate_backend(pid, 5000) FROM pg_stat_activity WHERE datname = %s"


@contextmanager
def elsewhere(folder: Path, *, copied: bool = False) -> Iterator[Path]:
    """Let the program have a database and uploads of its own, in ``folder``, for the block.

    There is nothing in them yet; or what is in the database of here, ``copied``.
    """
    name = f"pipeline_elsewhere_{os.getpid()}_{secrets.token_hex(4)}"
    folder.mkdir(exist_ok=True)
    before, uploads = connection.settings_dict["NAME"], settings.MEDIA_ROOT
    let_go()
    if ON_SERVER:
        with psycopg.connect(f"{address()}/postgres", autocommit=True) as server:
            if copied:
                # Else one that is just being closed would be in the way.
                server.execute(GONE, [before])
            template = f'"{before}"' if copied else "template0"
            server.execute(f"CREATE DATABASE {name} TEMPLATE {template}")
    elif copied:
        shutil.copy(before, folder / "there.sqlite3")
    connection.settings_dict["NAME"] = name if ON_SERVER else str(folder / "there.sqlite3")
    settings.MEDIA_ROOT = folder / "files"
    try:
        yield folder
    finally:
        let_go()
        connection.settings_dict["NAME"], settings.MEDIA_ROOT = before, uploads
        if ON_SERVER:
            with psycopg.connect(f"{address()}/postgres", autocommit=True) as server:
                server.execute(f"DROP DATABASE {name} WITH (FORCE)")


def let_go() -> None:
    """Close what is open to the database."""
    connection.close()
    if ON_SERVER:
        connection.close_pool()


def every_row() -> dict[str, list[str]]:
    """Return all rows of all tables, as text; empty where no database is there yet."""
    with engine().there() as ask:
        if ask is None:
            return {}
        tables = {table for table, _ in engine().columns(ask)}
        return {table: sorted(map(repr, ask(f'SELECT * FROM "{table}"'))) for table in tables}


def every_file() -> dict[str, str]:
    """Return the uploads, each by the SHA-256 of what it holds."""
    root = Path(settings.MEDIA_ROOT)
    found = [path for path in root.rglob("*") if path.is_file()]
    return {str(p.relative_to(root)): sha256(p.read_bytes()).hexdigest() for p in found}


def every_guard() -> list[str]:
    """Return what watches over the tables: triggers, and on a server policies and keys."""
    asked = ["SELECT name || sql FROM sqlite_master WHERE type = 'trigger'"]
    if ON_SERVER:
        schema = "current_schema()::regnamespace"
        asked = [
            "SELECT tgrelid::regclass || tgname FROM pg_trigger WHERE NOT tgisinternal",
            "SELECT concat(tablename, policyname, cmd, qual, with_check) FROM pg_policies",
            "SELECT conrelid::regclass || conname FROM pg_constraint"
            f" WHERE connamespace = {schema}",
            f"SELECT relname || relrowsecurity FROM pg_class WHERE relnamespace = {schema}",
            f"SELECT proname || coalesce(proacl::text, '') || obj_description(oid, 'pg_proc')"
            f" FROM pg_proc WHERE pronamespace = {schema}",
        ]
    with engine().there() as ask:
        return sorted(str(text) for question in asked for (text,) in ask(question))
