"""The locks in PostgreSQL's words: row-level security, keys that hold within a team, claims."""

from __future__ import annotations

from .rows import Joining, Owned, Reference

PREFIX = "same_team_"
POLICIES = ("of_team", "of_person", "of_bearer", "of_watcher")
LONGEST_NAME = 63

# In brackets of its own, so that it is asked once a query and not once a row.
TEAM = "(SELECT nullif(current_setting('pipeline.team', true), '')::bigint)"
PERSON = "(SELECT nullif(current_setting('pipeline.user', true), '')::bigint)"
TOKEN = "(SELECT nullif(current_setting('pipeline.token', true), ''))"
WATCHING = "(SELECT current_setting('pipeline.watching', true) = 'on')"


def policies(of: Owned) -> list[str]:
    """Return what lets a table's rows be seen and written: by their team; the rest only seen."""
    made = [
        f'ALTER TABLE "{of.table}" ENABLE ROW LEVEL SECURITY',
        f'CREATE POLICY of_team ON "{of.table}"'
        f" USING (team_id = {TEAM}) WITH CHECK (team_id = {TEAM})",
    ]
    also = {
        "of_person": (of.of_person, f"user_id = {PERSON}"),
        "of_bearer": (of.of_bearer, f"token = {TOKEN}"),
        "of_watcher": (of.queue, WATCHING),
    }
    for name, (there, seen) in also.items():
        if there:
            made.append(f'CREATE POLICY {name} ON "{of.table}" FOR SELECT USING ({seen})')
    return made


def joined_policies(of: Joining) -> list[str]:
    """Return the same for a table that joins two of a team's rows: where both are the team's."""
    both = " AND ".join(
        f'EXISTS (SELECT FROM "{parent}" p WHERE p.id = "{of.table}"."{column}"'
        f" AND p.team_id = {TEAM})"
        for column, parent in of.ends
    )
    return [
        f'ALTER TABLE "{of.table}" ENABLE ROW LEVEL SECURITY',
        f'CREATE POLICY of_team ON "{of.table}" USING ({both}) WITH CHECK ({both})',
    ]


def key(parent: str) -> tuple[str, str]:
    """Return name and definition of what a key within a team leads to."""
    return _name(f"{parent}_key"), f'ALTER TABLE "{parent}" ADD CONSTRAINT %s UNIQUE (team_id, id)'


def reference(of: Reference) -> tuple[str, str]:
    """Return name and definition of a key that holds within a team."""
    return _name(f"{of.table}_{of.column}"), (
        f'ALTER TABLE "{of.table}" ADD CONSTRAINT %s FOREIGN KEY (team_id, "{of.column}")'
        f' REFERENCES "{of.parent}" (team_id, id) DEFERRABLE INITIALLY DEFERRED'
    )


def joined_trigger(of: Joining) -> list[str]:
    """Return what refuses to join the rows of two teams."""
    (one, its), (other, others) = of.ends
    name = _name(of.table)
    return [
        f"""
CREATE OR REPLACE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $check$
BEGIN
    IF (SELECT team_id FROM "{its}" WHERE id = NEW."{one}")
        <> (SELECT team_id FROM "{others}" WHERE id = NEW."{other}") THEN
        RAISE foreign_key_violation USING MESSAGE = '{of.table}: rows of two teams';
    END IF;
    RETURN NULL;
END
$check$""",
        f'CREATE OR REPLACE TRIGGER {name} AFTER INSERT OR UPDATE ON "{of.table}"'
        f" FOR EACH ROW EXECUTE FUNCTION {name}()",
    ]


def claims(queues: list[str], schema: str, role: str) -> list[str]:
    """Return the one function by which a worker takes a row before it has a team."""
    named = ", ".join(f"'{table}'" for table in queues)
    arguments = "queue text, moment timestamptz, lease interval, worker uuid"
    kinds = "text, timestamptz, interval, uuid"
    return [
        f"""
CREATE OR REPLACE FUNCTION pipeline_claim({arguments})
RETURNS TABLE (row_id bigint, row_team bigint)
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, {schema}, pg_temp AS $claim$
BEGIN
    IF queue <> ALL (ARRAY[{named}]::text[]) THEN
        RAISE invalid_parameter_value USING MESSAGE = 'no queue: ' || queue;
    END IF;
    RETURN QUERY EXECUTE format(
        'UPDATE %1$I SET claim = $3, claimed_at = $1, attempts = attempts + 1,
                next_attempt_at = $1 + $2
         WHERE id = (
             SELECT id FROM %1$I WHERE next_attempt_at <= $1
             ORDER BY next_attempt_at, id LIMIT 1 FOR UPDATE SKIP LOCKED
         )
         RETURNING id, team_id', queue
    ) USING moment, lease, worker;
END
$claim$""",
        f"REVOKE ALL ON FUNCTION pipeline_claim({kinds}) FROM PUBLIC",
        f'GRANT EXECUTE ON FUNCTION pipeline_claim({kinds}) TO "{role}"',
    ]


def grants(tables: list[str], schema: str, role: str) -> list[str]:
    """Return what the role may do: read and write rows, and nothing to the tables themselves."""
    named = ", ".join(f'"{table}"' for table in tables)
    return [
        # Before PostgreSQL 15 everybody may.
        f"REVOKE CREATE ON SCHEMA {schema} FROM PUBLIC",
        f'GRANT USAGE ON SCHEMA {schema} TO "{role}"',
        f'GRANT SELECT, INSERT, UPDATE, DELETE ON {named} TO "{role}"',
        f'GRANT SELECT ON django_migrations TO "{role}"',
        f'GRANT USAGE, SELECT ON ALL SEQUENCES IN SCHEMA {schema} TO "{role}"',
    ]


def _name(of: str) -> str:
    name = PREFIX + of
    if len(name) > LONGEST_NAME:
        raise ValueError(f"{name} is longer than PostgreSQL's names; shorten it in _name.")
    return name
