"""Print a team's results as of a day."""

from __future__ import annotations

from contextlib import suppress
from datetime import date
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from pipeline.clock import moment
from pipeline.locks.asking import as_team
from pipeline.results.as_json import as_json
from pipeline.results.as_table import as_table
from pipeline.results.cohort import Cohort
from pipeline.results.figures.results import results
from pipeline.results.figures.work import work
from pipeline.teams.models import Team


class Command(BaseCommand):
    help = "Print a team's conversion and delayed return, as of today or of another day."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--team", required=True, metavar="SLUG", help="the team's slug")
        parser.add_argument("--as-of", metavar="DAY", help="such as 2026-03-31; today by default")
        parser.add_argument("--format", choices=["json", "table"], default="table")

    def handle(self, *args: Any, **options: Any) -> None:
        team = Team.objects.filter(slug=options["team"]).first()
        if team is None:
            raise CommandError(f"--team: there is no team with the slug {options['team']!r}.")
        today = team.today(moment.now())
        as_of = today if options["as_of"] is None else _day(options["as_of"])
        with as_team(team.pk):
            self._tell(Cohort(team, as_of), options["format"])

    def _tell(self, cohort: Cohort, form: str) -> None:
        team, found = cohort.team, results(cohort)
        if form == "json":
            # Whoever may run commands here may read every row.
            self.stdout.write(as_json(team.slug, found, work(cohort, with_crew=True)))
        else:
            self.stdout.write(as_table(team.name, found))


def _day(text: str) -> date:
    day = None
    with suppress(ValueError):
        day = date.fromisoformat(text)
    # Python also reads 20260331 and week numbers.
    if day is None or day.isoformat() != text:
        raise CommandError(f"--as-of: {text!r} is no day; write it as 2026-03-31.")
    return day
