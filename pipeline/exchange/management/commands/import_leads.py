"""``manage.py import_leads``: take a team's spreadsheet in."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.urls import reverse

from pipeline.clock import moment
from pipeline.exchange.reading import Table, Unreadable, read
from pipeline.exchange.rejected import write_rejects
from pipeline.exchange.report import Report
from pipeline.exchange.taking_in import look_through, take_in
from pipeline.exchange.unsent import old_unsent
from pipeline.locks.asking import as_team
from pipeline.teams.models import Team

# Of a long list so many are printed.
SHOWN = 20


class Command(BaseCommand):
    """Take a CSV file of leads in. Bad rows are left out and named; the rest is written."""

    help = __doc__

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", metavar="FILE.csv", type=Path)
        parser.add_argument("--team", required=True, metavar="SLUG", help="the team's slug")
        parser.add_argument(
            "--dry-run", action="store_true", help="say what would happen and store nothing"
        )
        parser.add_argument(
            "--rejects",
            metavar="FILE",
            type=Path,
            help="write the bad rows there, with what is wrong; also in a dry run",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        team = Team.objects.filter(slug=options["team"]).first()
        if team is None:
            raise CommandError(f"--team: there is no team with the slug {options['team']!r}.")
        try:
            table = read(options["file"].read_bytes())
        except OSError as error:
            raise CommandError(f"{options['file']}: {error.strerror}.") from None
        except Unreadable as unreadable:
            raise CommandError(f"{options['file']}: {unreadable}") from None

        with as_team(team.pk):
            self._take_in(team, table, options)

    def _take_in(self, team: Team, table: Table, options: dict[str, Any]) -> None:
        now = moment.now()
        # opened before anything is stored: bad rows must not be lost for want of a place
        rejects = _opened(options["rejects"])
        try:
            if options["dry_run"]:
                report = look_through(team=team, table=table, now=now)
            else:
                report = take_in(team=team, table=table, member=None, now=now)
            if rejects:
                write_rejects(rejects, table, report.rejects)
        finally:
            if rejects:
                rejects.close()
        self._tell(team, report, dry_run=options["dry_run"])

    def _tell(self, team: Team, report: Report, *, dry_run: bool) -> None:
        if dry_run:
            self.stdout.write("Dry run: nothing is stored.")
        for what, count in report.words:
            self.stdout.write(f"{what}: {count}")
        lines = [
            f"  line {reject.row.line}, {fault.column or 'row'}: {fault.value!r}. {fault.mend}"
            for reject in report.rejects
            for fault in reject.faults
        ]
        self._list("Rejected:", lines, "see --rejects")
        owed = [f"  {d.due_on}  {d.organisation}: {d.title}" for d in report.unsent]
        page = settings.BASE_URL + reverse("unsent", args=[team.slug])
        self._list("Unsent though their day is over:", owed, f"see {page}")
        if not dry_run and old_unsent(team).exists():
            self.stdout.write(f"Keep or waive old unsent deliverables, all at once: {page}")

    def _list(self, heading: str, lines: list[str], more: str) -> None:
        if lines:
            self.stdout.write(heading)
        for line in lines[:SHOWN]:
            self.stdout.write(line)
        if len(lines) > SHOWN:
            self.stdout.write(f"  and {len(lines) - SHOWN} more; {more}")


def _opened(path: Path | None) -> Any:
    try:
        return path.open("w", encoding="utf-8", newline="") if path else None
    except OSError as error:
        raise CommandError(f"--rejects: {path}: {error.strerror}.") from None
