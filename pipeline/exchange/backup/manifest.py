"""What a backup says about itself, and whether this program can take it."""

from __future__ import annotations

import json
from collections.abc import Collection
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from django.conf import settings
from django.db import connection
from django.db.migrations.loader import MigrationLoader
from django.utils.crypto import salted_hmac

from pipeline.teams.refused import Refused

FORMAT = 1
KINDS = {"sqlite": "SQLite", "postgresql": "PostgreSQL"}


@dataclass(frozen=True)
class Member:
    """A file in the archive: its length, and the SHA-256 of its bytes."""

    bytes: int
    sha256: str


@dataclass(frozen=True)
class Manifest:
    """What was kept, of what, by which program, and when."""

    program: str
    made_at: datetime
    # A key of KINDS; of a server its major version and the schema, of SQLite 0 and none.
    database: str
    server: int
    schema: str
    # Known by it, never found from it; see key_mark.
    key: str
    migrations: tuple[str, ...]
    # How many rows each table has.
    rows: dict[str, int]
    members: dict[str, Member]
    # Uploads that rows name and that were not there.
    lost: tuple[str, ...]

    def as_json(self) -> bytes:
        """Return it as it stands in the archive."""
        told = {"format": FORMAT, **asdict(self), "made_at": self.made_at.isoformat()}
        return json.dumps(told, indent=1, ensure_ascii=False).encode()


def read(raw: bytes) -> Manifest:
    """Read a manifest back. Raises ``Refused`` where it is none, or one of a later kind."""
    try:
        told: dict[str, Any] = json.loads(raw)
        form = told["format"]
        if form == FORMAT:
            return Manifest(
                program=str(told["program"]),
                made_at=datetime.fromisoformat(told["made_at"]),
                database=str(told["database"]),
                server=int(told["server"]),
                schema=str(told["schema"]),
                key=str(told["key"]),
                migrations=tuple(map(str, told["migrations"])),
                rows={str(table): int(count) for table, count in told["rows"].items()},
                members={
                    str(name): Member(int(member["bytes"]), str(member["sha256"]))
                    for name, member in told["members"].items()
                },
                lost=tuple(map(str, told["lost"])),
            )
    except (KeyError, TypeError, ValueError, AttributeError, RecursionError):
        raise Refused("This is no backup of this program: its manifest is no list.") from None
    raise Refused(f"A newer program wrote this backup, in the format {form!r}; use that one.")


def refuse_what_does_not_fit(manifest: Manifest, *, other_key: bool) -> None:
    """Refuse a backup of another kind of database, of a newer program, or under another key."""
    if manifest.database != connection.vendor:
        raise Refused(
            f"This is a backup of {KINDS.get(manifest.database, 'an unknown database')}, and "
            f"DATABASE_URL names {KINDS.get(connection.vendor, connection.vendor)}; "
            "name a database of that kind."
        )
    if _as_numbers(manifest.program) > _as_numbers(settings.VERSION):
        raise Refused(
            f"Version {manifest.program} of the program made this backup, and this one is "
            f"{settings.VERSION}; restore it with that version or a later one."
        )
    unknown = sorted(set(manifest.migrations) - set(_known()))
    if unknown:
        raise Refused(
            f"A newer program made this backup: its tables have seen {unknown[0]}, which is not "
            "known here; restore it with that version or a later one."
        )
    if manifest.key != key_mark() and not other_key:
        raise Refused(
            "This backup was made under another SECRET_KEY: set that one (or put its "
            "data/secret-key back). If it is lost, --other-key restores all the same; then the "
            "links in letters that went out open no more, those that stop letters too, everybody "
            "signs in again, and second factors have to be set up anew."
        )


def key_mark() -> str:
    """Return by what the secret key is known without being kept."""
    return salted_hmac("pipeline.exchange.backup", "key", algorithm="sha256").hexdigest()[:32]


def _known() -> Collection[str]:
    return [f"{app}.{name}" for app, name in MigrationLoader(None).disk_migrations]


def _as_numbers(version: str) -> tuple[int, ...]:
    if not all(part.isascii() and part.isdecimal() for part in version.split(".")):
        raise Refused(f"This is no backup of this program: {version[:40]!r} is no version of it.")
    return tuple(map(int, version.split(".")))
