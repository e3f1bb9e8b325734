"""Bring the triggers in line with the tables, after every migration: SQLite drops those of a
table that it makes anew, and a new column is to be watched.
"""

from __future__ import annotations

from hashlib import sha256
from typing import Any

from django.db import connections, router

from pipeline.teams.acting import current

from .models import Change
from .triggers import FUNCTION, PREFIX, on_postgresql, on_sqlite
from .watched import watched

TRIGGERS = (
    "SELECT tgname, tgrelid::regclass::text FROM pg_trigger JOIN pg_class c ON c.oid = tgrelid"
    " WHERE relnamespace = current_schema()::regnamespace AND tgname LIKE %s"
)


def make_way(using: str, plan: list[Any], **kwargs: Any) -> None:
    """Before a migration: no column may go, or become another, of which a trigger speaks."""
    connection = connections[using]
    if not plan:
        return
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            for name in _there(cursor):
                cursor.execute(f'DROP TRIGGER "{name}"')
        elif connection.vendor == "postgresql":
            cursor.execute(TRIGGERS, [f"{PREFIX}%"])
            for name, table in cursor.fetchall():
                cursor.execute(f"DROP TRIGGER {name} ON {table}")
            if _told(cursor):
                # It is no longer all there.
                cursor.execute("COMMENT ON FUNCTION pipeline_keep_change() IS NULL")


def install(using: str = "default", **kwargs: Any) -> None:
    """Make what is missing, replace what differs, drop what is no longer meant."""
    connection = connections[using]
    if not router.allow_migrate_model(using, Change):
        return
    if Change._meta.db_table not in connection.introspection.table_names():
        return
    if connection.vendor == "sqlite":
        _on_sqlite(connection)
    elif connection.vendor == "postgresql":
        _on_postgresql(connection)


def _on_sqlite(connection: Any) -> None:
    wanted: dict[str, str] = {}
    for table in watched():
        wanted |= on_sqlite(table)
    with connection.cursor() as cursor:
        there = _there(cursor)
        for name in there:
            if there[name] != wanted.get(name):
                cursor.execute(f'DROP TRIGGER "{name}"')
        for name, sql in wanted.items():
            if there.get(name) != sql:
                cursor.execute(sql)
        # A table that is emptied whole, as tests do, leaves changes of teams that are gone.
        cursor.execute(
            "DELETE FROM history_change WHERE team_id NOT IN (SELECT id FROM teams_team)"
        )


def _on_postgresql(connection: Any) -> None:
    statements = [FUNCTION]
    for table in watched():
        statements += on_postgresql(table).values()
    mark = _mark(statements)
    with connection.cursor() as cursor:
        if _told(cursor) == mark:
            return
        for statement in statements:
            cursor.execute(statement)
        cursor.execute(f"COMMENT ON FUNCTION pipeline_keep_change() IS '{mark}'")


def _there(cursor: Any) -> dict[str, str]:
    cursor.execute(
        "SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND name LIKE %s",
        [f"{PREFIX}%"],
    )
    return dict(cursor.fetchall())


def _told(cursor: Any) -> str | None:
    cursor.execute("SELECT obj_description(to_regproc('pipeline_keep_change')::oid, 'pg_proc')")
    told: str | None = cursor.fetchone()[0]
    return told


def _mark(statements: list[str]) -> str:
    return sha256("\n".join(statements).encode()).hexdigest()


def answer_triggers(connection: Any, **kwargs: Any) -> None:
    """Let a new SQLite connection answer what its triggers ask: who acts, and when."""
    if connection.vendor != "sqlite":
        return
    driver = connection.connection
    driver.create_function("pipeline_kept", 0, lambda: current().kept)
    driver.create_function("pipeline_member", 0, lambda: current().member)
    driver.create_function("pipeline_act", 0, lambda: current().key)
    # as Django stores moments there
    driver.create_function("pipeline_now", 0, lambda: str(current().at.replace(tzinfo=None)))
