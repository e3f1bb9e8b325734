"""``manage.py retention``: who would be erased, and why; nobody is erased from here."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from pipeline.clock import moment
from pipeline.locks.asking import as_team
from pipeline.rights.retention import lapsed
from pipeline.teams.models import Team


class Command(BaseCommand):
    """List whom the team's period of retention is over for."""

    help = __doc__

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("team", metavar="TEAM", help="its name in addresses: /t/TEAM/")
        parser.add_argument(
            "--dry-run",
            action="store_true",
            help="what it does anyway: owners erase by a button",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        team = Team.objects.filter(slug=options["team"]).first()
        if team is None:
            raise CommandError(f"There is no team {options['team']!r}.")
        if team.retention_months is None:
            self.stdout.write(f"{team} has set no period: people are kept.")
            return
        with as_team(team.pk):
            self._tell(team)

    def _tell(self, team: Team) -> None:
        found = lapsed(team, moment.now())
        self.stdout.write(f"{team} keeps people for {team.retention_months} months.")
        self.stdout.write(f"Would be erased: {len(found)}")
        for one in found:
            who = f"{one.contact}, {one.contact.lead}"
            self.stdout.write(f"  {one.contact.pk}  {who}: last heard of {one.newest}")
