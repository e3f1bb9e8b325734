"""``manage.py export_leads``: write a team's leads as a sheet."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from pipeline.exchange.left_out import left_out
from pipeline.exchange.writing import sheet_lines
from pipeline.locks.asking import as_team
from pipeline.teams.models import Team


class Command(BaseCommand):
    """Write a team's leads as CSV with the columns of the import."""

    help = __doc__

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--team", required=True, metavar="SLUG", help="the team's slug")

    def handle(self, *args: Any, **options: Any) -> None:
        team = Team.objects.filter(slug=options["team"]).first()
        if team is None:
            raise CommandError(f"--team: there is no team with the slug {options['team']!r}.")
        with as_team(team.pk):
            for line in sheet_lines(team):
                self.stdout.write(line, ending="")
            for words in left_out(team):
                self.stderr.write(f"not in the sheet: {words}")
