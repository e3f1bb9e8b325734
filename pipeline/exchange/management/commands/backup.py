"""``manage.py backup``: the database and the uploads in one file."""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import Any

import psycopg
from django.core.management.base import BaseCommand, CommandError, CommandParser

from pipeline.clock import moment
from pipeline.exchange.backup.archive import UPLOADS
from pipeline.exchange.backup.taking import take_backup
from pipeline.teams.refused import Refused


class Command(BaseCommand):
    """Write the database and the uploads to one file, also while the program is at work."""

    help = __doc__
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", metavar="FILE.zip", type=Path)
        parser.add_argument(
            "--programs",
            metavar="FOLDER",
            type=Path,
            help="where pg_dump is",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        path: Path = options["file"]
        try:
            made = take_backup(
                path, now=moment.now(), say=self._say(options), programs=options["programs"]
            )
        except Refused as refused:
            raise CommandError(str(refused)) from None
        except (OSError, sqlite3.Error, psycopg.Error) as error:
            raise CommandError(f"{path} was not written: {error}") from error
        uploads = sum(name.startswith(UPLOADS) for name in made.members)
        self.stdout.write(
            f"{path}: {sum(made.rows.values()):,} rows in {len(made.rows)} tables, "
            f"{uploads:,} upload{'s' if uploads != 1 else ''}, "
            f"{path.stat().st_size / 1e6:,.1f} MB."
        )
        for name in made.lost:
            self.stdout.write(f"Not in it, as it was lost before: {name}")
        self.stdout.write(
            "It holds personal data, and goes on holding what is erased from now on. Keep it "
            "locked and no longer than you must, and try to restore it. SECRET_KEY is not in it."
        )

    def _say(self, options: dict[str, Any]) -> Any:
        return self.stdout.write if options["verbosity"] > 0 else lambda words: None
