"""The triggers that keep changes, in the words of each database."""

from __future__ import annotations

from .watched import Watched

PREFIX = "keep_change"


def on_sqlite(of: Watched) -> dict[str, str]:
    """Return the triggers of one table, by name. They ask the program who acts (acting.py)."""
    row = ", ".join(f"'{column}', OLD.\"{column}\"" for column in of.stored)
    # A join table's key may be no number of its own; every table here has an id.
    common = f"'{of.table}', OLD.id, {of.lead}, pipeline_now(), pipeline_member(), pipeline_act()"
    into = (
        'INSERT INTO history_change (team_id, "table", "row", lead, at, member_id, act,'
        " removed, said) "
    )
    made = {
        f"{PREFIX}_removed_{of.table}": (
            f'CREATE TRIGGER "{PREFIX}_removed_{of.table}" AFTER DELETE ON "{of.table}"'
            f" WHEN pipeline_kept() AND {of.team} IS NOT NULL"
            f" BEGIN {into} VALUES ({of.team}, {common}, 1, json_object({row})); END"
        )
    }
    if of.columns:
        differs = " OR ".join(f'OLD."{c}" IS NOT NEW."{c}"' for c in of.columns)
        pairs = " UNION ALL ".join(
            f'SELECT \'{c}\' AS k, OLD."{c}" AS o, NEW."{c}" AS n' for c in of.columns
        )
        said = f"(SELECT json_group_object(k, json_array(o, n)) FROM ({pairs}) WHERE o IS NOT n)"
        made[f"{PREFIX}_changed_{of.table}"] = (
            f'CREATE TRIGGER "{PREFIX}_changed_{of.table}" AFTER UPDATE ON "{of.table}"'
            f" WHEN pipeline_kept() AND ({differs})"
            f" BEGIN {into} VALUES ({of.team}, {common}, 0, {said}); END"
        )
    return made


FUNCTION = """
CREATE OR REPLACE FUNCTION pipeline_keep_change() RETURNS trigger LANGUAGE plpgsql AS $keep$
DECLARE
    before jsonb := to_jsonb(OLD);
    said jsonb := before;
    team bigint;
BEGIN
    IF coalesce(current_setting('pipeline.kept', true), '') = 'no' THEN
        RETURN NULL;
    END IF;
    IF TG_OP = 'UPDATE' THEN
        SELECT jsonb_object_agg(key, jsonb_build_array(before -> key, value)) INTO said
        FROM jsonb_each(to_jsonb(NEW))
        WHERE before -> key IS DISTINCT FROM value
          AND key = ANY (string_to_array(TG_ARGV[1], ','));
        IF said IS NULL THEN
            RETURN NULL;
        END IF;
    END IF;
    IF TG_ARGV[0] = '' THEN
        team := (before ->> 'team_id')::bigint;
    ELSE
        EXECUTE 'SELECT ' || TG_ARGV[0] INTO team USING before;
    END IF;
    IF team IS NULL THEN
        RETURN NULL;
    END IF;
    INSERT INTO history_change
        (team_id, "table", "row", lead, at, member_id, act, removed, said)
    VALUES (
        team,
        TG_TABLE_NAME,
        (before ->> 'id')::bigint,
        CASE WHEN TG_TABLE_NAME = 'leads_lead' THEN (before ->> 'id')::bigint
             ELSE (before ->> 'lead_id')::bigint END,
        coalesce(
            nullif(current_setting('pipeline.now', true), '')::timestamptz, clock_timestamp()
        ),
        nullif(current_setting('pipeline.member', true), '')::bigint,
        coalesce(
            nullif(current_setting('pipeline.act', true), ''), 'tx ' || txid_current()::text
        ),
        TG_OP = 'DELETE',
        said
    );
    RETURN NULL;
END
$keep$
"""


def on_postgresql(of: Watched) -> dict[str, str]:
    """Return the triggers of one table, by name. They ask the transaction who acts."""
    team = ""
    if of.team != 'OLD."team_id"':
        team = of.team.replace('OLD."', "($1 ->> '").replace('")', "')::bigint)")
    quoted = team.replace("'", "''")
    removed, changed = f"{PREFIX}_removed", f"{PREFIX}_changed"
    made = {
        removed: (
            f'CREATE OR REPLACE TRIGGER {removed} AFTER DELETE ON "{of.table}" FOR EACH ROW'
            f" EXECUTE FUNCTION pipeline_keep_change('{quoted}', '')"
        )
    }
    if of.columns:
        differs = " OR ".join(f'OLD."{c}" IS DISTINCT FROM NEW."{c}"' for c in of.columns)
        made[changed] = (
            f'CREATE OR REPLACE TRIGGER {changed} AFTER UPDATE ON "{of.table}" FOR EACH ROW'
            f" WHEN ({differs})"
            f" EXECUTE FUNCTION pipeline_keep_change('{quoted}', '{','.join(of.columns)}')"
        )
    return made
