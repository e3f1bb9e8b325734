"""``manage.py restore``: a backup in the place of the database and the uploads."""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import Any

import psycopg
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import Error as DatabaseError

from pipeline.clock import moment
from pipeline.exchange.backup.restoring import restore_backup
from pipeline.teams.refused import Refused
from pipeline.teams.templatetags.show import moment as shown


class Command(BaseCommand):
    """Restore a backup while the program is stopped; nothing is touched before all is checked."""

    help = __doc__
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", metavar="FILE.zip", type=Path)
        parser.add_argument(
            "--replace", action="store_true", help="put it in the place of what is there"
        )
        parser.add_argument(
            "--other-key",
            action="store_true",
            help="although it was made under another SECRET_KEY, which is lost",
        )
        parser.add_argument(
            "--programs",
            metavar="FOLDER",
            type=Path,
            help="where pg_restore is",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        path: Path = options["file"]
        say: Any = self.stdout.write if options["verbosity"] > 0 else lambda words: None
        try:
            restored = restore_backup(
                path,
                now=moment.now(),
                say=say,
                replace=options["replace"],
                other_key=options["other_key"],
                programs=options["programs"],
            )
        except Refused as refused:
            raise CommandError(str(refused)) from None
        except (OSError, sqlite3.Error, psycopg.Error, DatabaseError) as error:
            raise CommandError(f"{path} was not restored, all is as before: {error}") from error
        manifest, held = restored.manifest, restored.held
        self.stdout.write(
            f"Restored what was there on {shown(manifest.made_at, 'UTC')} (UTC): "
            f"{sum(manifest.rows.values()):,} rows in {len(manifest.rows)} tables."
        )
        for name in manifest.lost:
            self.stdout.write(f"Not in it, as it was lost before: {name}")
        if held:
            self.stdout.write(
                f"{held:,} letter{'s' if held != 1 else ''} may have gone out since and "
                f"{'are' if held != 1 else 'is'} held back: see Team, Letters sent and waiting."
            )
        if restored.stopped:
            self.stdout.write(
                "Kept from letters, as they asked for no more since then: "
                f"{restored.stopped:,} address{'es' if restored.stopped != 1 else ''}."
            )
        self.stdout.write(
            "Who was erased since then is back: erase them again. Who asked for no more letters, "
            "and is known only to a database that is lost, must be noted again. Do both before "
            "any letter goes out."
        )
