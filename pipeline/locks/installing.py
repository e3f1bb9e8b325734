"""Bring the locks in line with the tables, after every migration."""

from __future__ import annotations

from hashlib import sha256
from typing import Any

from django.conf import settings
from django.core.management.base import CommandError
from django.db import DatabaseError, connections, transaction

from . import on_postgresql, on_sqlite
from .rows import Joining, Owned, Reference, joinings, owned, references

MAKE_ROLE = 'CREATE ROLE "{role}" NOLOGIN NOBYPASSRLS'
# Another database of the server may be set up at the same moment.
MAKE_ROLE_ONCE = """
DO $make$ BEGIN
    {make};
EXCEPTION WHEN duplicate_object OR unique_violation THEN NULL;
END $make$"""


def make_way(using: str, plan: list[Any], **kwargs: Any) -> None:
    """Before SQLite makes a table anew: no trigger may then speak of one that is away."""
    connection = connections[using]
    if plan and connection.vendor == "sqlite":
        _replace_triggers(connection, {})


def install(using: str, **kwargs: Any) -> None:
    """Make what is missing, replace what differs, drop what is no longer meant.

    After a migration that ended half-way there are tables and columns that are not there yet, or
    not any more; what leads to them waits for the next one.
    """
    connection = connections[using]
    there = _columns(connection)
    tables = [of for of in owned() if {(of.table, column) for column in of.columns} <= there]
    known = {of.table for of in tables}
    keys = [of for of in references() if {of.table, of.parent} <= known]
    joined = [
        of
        for of in joinings()
        if {parent for _, parent in of.ends} <= known
        and {(of.table, column) for column, _ in of.ends} <= there
    ]
    if connection.vendor == "sqlite":
        _replace_triggers(connection, on_sqlite.triggers(keys, joined))
    elif connection.vendor == "postgresql" and tables:
        _on_postgresql(connection, tables, keys, joined)
        if settings.APP_PASSWORD:
            _let_sign_in(connection)


def _columns(connection: Any) -> set[tuple[str, str]]:
    asked = {
        "sqlite": "SELECT m.name, c.name FROM sqlite_master m, pragma_table_info(m.name) c"
        " WHERE m.type = 'table'",
        "postgresql": "SELECT table_name, column_name FROM information_schema.columns"
        " WHERE table_schema = current_schema()",
    }
    with connection.cursor() as cursor:
        cursor.execute(asked[connection.vendor])
        return set(cursor.fetchall())


def _replace_triggers(connection: Any, wanted: dict[str, str]) -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
        there = {k: v for k, v in cursor.fetchall() if k.startswith(on_sqlite.PREFIX)}
        for name in there:
            if there[name] != wanted.get(name):
                cursor.execute(f'DROP TRIGGER "{name}"')
        for name, statement in wanted.items():
            if there.get(name) != statement:
                cursor.execute(statement)


def _on_postgresql(
    connection: Any, tables: list[Owned], keys: list[Reference], joined: list[Joining]
) -> None:
    role = settings.APP_ROLE
    with transaction.atomic(using=connection.alias), connection.cursor() as cursor:
        cursor.execute("SELECT quote_ident(current_schema())")
        (schema,) = cursor.fetchone()
        policies = [s for of in tables for s in on_postgresql.policies(of)]
        policies += [s for of in joined for s in on_postgresql.joined_policies(of)]
        triggers = [s for of in joined for s in on_postgresql.joined_trigger(of)]
        parents = sorted({of.parent for of in keys})
        constraints = dict(on_postgresql.key(parent) for parent in parents)
        constraints |= dict(on_postgresql.reference(of) for of in keys)
        queues = [of.table for of in tables if of.queue]
        claims = on_postgresql.claims(queues, schema, role)
        written = connection.introspection.django_table_names(only_existing=True)
        grants = on_postgresql.grants(sorted(written), schema, role)
        every = [*policies, *triggers, *constraints.values(), *claims, *grants]
        mark = sha256("\n".join(every).encode()).hexdigest()
        count = sum(s.startswith("CREATE POLICY") for s in policies)
        if _mark(cursor, role, written) == (mark, count, len(constraints)):
            return
        _make_role(cursor, role)
        _drop(cursor, set(constraints))
        present = _constraints(cursor)
        made = [s % name for name, s in constraints.items() if name not in present]
        for statement in [*policies, *triggers, *made, *claims, *grants]:
            cursor.execute(statement)
        kinds = "text, timestamptz, interval, uuid"
        cursor.execute(f"COMMENT ON FUNCTION pipeline_claim({kinds}) IS '{mark}'")


def _mark(cursor: Any, role: str, tables: list[str]) -> tuple[str | None, int, int] | None:
    """Return what was installed last and how much of it is there; ``None``: not all is granted."""
    cursor.execute("SELECT FROM pg_roles WHERE rolname = %s", [role])
    if cursor.fetchone() is None:
        return None
    cursor.execute(
        "SELECT bool_and(has_table_privilege(%s, quote_ident(t), 'INSERT'))"
        " FROM unnest(%s::text[]) t",
        [role, tables],
    )
    if not cursor.fetchone()[0]:
        return None
    cursor.execute(
        "SELECT obj_description(to_regproc('pipeline_claim')::oid, 'pg_proc'),"
        " (SELECT count(*) FROM pg_policies JOIN pg_class ON relname = tablename"
        "  AND relnamespace = current_schema()::regnamespace AND relrowsecurity"
        "  WHERE schemaname = current_schema() AND policyname = ANY (%s))",
        [list(on_postgresql.POLICIES)],
    )
    mark, count = cursor.fetchone()
    return mark, count, len(_constraints(cursor))


def _constraints(cursor: Any) -> dict[str, str]:
    cursor.execute(
        "SELECT conname, conrelid::regclass::text FROM pg_constraint"
        " WHERE connamespace = current_schema()::regnamespace AND conname LIKE %s"
        # keys that lead go before those to which they lead
        " ORDER BY contype",
        [f"{on_postgresql.PREFIX}%"],
    )
    return dict(cursor.fetchall())


def _drop(cursor: Any, kept: set[str]) -> None:
    cursor.execute(
        "SELECT policyname, tablename FROM pg_policies"
        " WHERE schemaname = current_schema() AND policyname = ANY (%s)",
        [list(on_postgresql.POLICIES)],
    )
    for name, table in cursor.fetchall():
        cursor.execute(f'DROP POLICY {name} ON "{table}"')
    for name, table in _constraints(cursor).items():
        if name not in kept:
            cursor.execute(f"ALTER TABLE {table} DROP CONSTRAINT {name}")


def _make_role(cursor: Any, role: str) -> None:
    """Make the role where it is missing, and let whoever migrates take it on."""
    cursor.execute("SELECT FROM pg_roles WHERE rolname = %s", [role])
    make = MAKE_ROLE.format(role=role)
    needed = [] if cursor.fetchone() else [make]
    cursor.execute("SELECT current_user, rolsuper FROM pg_roles WHERE rolname = current_user")
    login, may_all = cursor.fetchone()
    join = f'GRANT "{role}" TO "{login}"'
    if not may_all:
        cursor.execute(
            "SELECT count(*) FROM pg_auth_members WHERE roleid = to_regrole(%s)"
            " AND member = to_regrole(quote_ident(%s))",
            [f'"{role}"', login],
        )
        if needed or not cursor.fetchone()[0]:
            needed.append(join)
    try:
        with transaction.atomic():
            for statement in needed:
                once = MAKE_ROLE_ONCE.format(make=make) if statement == make else statement
                cursor.execute(once)
    except DatabaseError as error:
        said = "; ".join(needed)
        raise CommandError(
            f"the database's login may not make the role of the web: have an administrator run"
            f" {said}; then migrate again."
        ) from error


def _let_sign_in(connection: Any) -> None:
    """Let the role sign in with its password, which itself never reaches the server."""
    role, password = settings.APP_ROLE, settings.APP_PASSWORD
    with connection.cursor() as cursor:
        driver = connection.connection.pgconn
        kept = driver.encrypt_password(password.encode(), role.encode(), b"scram-sha-256")
        cursor.execute(f"ALTER ROLE \"{role}\" LOGIN PASSWORD '{kept.decode()}'")
