"""The locks in SQLite's words: triggers that refuse a key into another team.

SQLite knows no roles, and serves one machine; there the door in Python is the only other lock.
"""

from __future__ import annotations

from .rows import Joining, Reference

PREFIX = "same_team_"
REFUSED = "SELECT RAISE(ABORT, 'FOREIGN KEY constraint failed: rows of two teams')"


def triggers(references: list[Reference], joinings: list[Joining]) -> dict[str, str]:
    """Return the triggers by name."""
    made: dict[str, str] = {}
    for of in references:
        crosses = (
            f'NEW."{of.column}" IS NOT NULL AND EXISTS (SELECT 1 FROM "{of.parent}"'
            f' WHERE id = NEW."{of.column}" AND team_id <> NEW.team_id)'
        )
        made |= _both(f"{of.table}_{of.column}", of.table, f'team_id, "{of.column}"', crosses)
    for join in joinings:
        (one, its), (other, others) = join.ends
        crosses = (
            f'(SELECT team_id FROM "{its}" WHERE id = NEW."{one}")'
            f' <> (SELECT team_id FROM "{others}" WHERE id = NEW."{other}")'
        )
        made |= _both(join.table, join.table, f'"{one}", "{other}"', crosses)
    for parent in sorted({of.parent for of in references}):
        # Else what leads to the row would now cross.
        name = f"{PREFIX}{parent}_stays"
        made[name] = (
            f'CREATE TRIGGER "{name}" BEFORE UPDATE OF team_id ON "{parent}"'
            f" WHEN NEW.team_id <> OLD.team_id BEGIN {REFUSED}; END"
        )
    return made


def _both(about: str, table: str, columns: str, crosses: str) -> dict[str, str]:
    events = {"made": "INSERT", "changed": f"UPDATE OF {columns}"}
    return {
        f"{PREFIX}{about}_{word}": (
            f'CREATE TRIGGER "{PREFIX}{about}_{word}" BEFORE {event} ON "{table}"'
            f" WHEN {crosses} BEGIN {REFUSED}; END"
        )
        for word, event in events.items()
    }
