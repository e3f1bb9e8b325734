"""``manage.py demo``: an invented scenario to try things out on."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from pipeline.clock import moment
from pipeline.exchange.demo import scenario
from pipeline.exchange.welcome import welcome
from pipeline.teams.models import Team


class Command(BaseCommand):
    """Load two invented agencies with 120 leads over three years, or remove them again."""

    help = __doc__

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--remove", action="store_true", help="remove the demo with all that was added to it"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if options["remove"]:
            gone = scenario.remove()
            self.stdout.write(f"{gone} team{'s' if gone != 1 else ''} of the demo removed.")
            return
        slugs = [agency.slug for agency in scenario.AGENCIES]
        if Team.objects.filter(slug__in=slugs).exists():
            raise CommandError("The demo is there already; --remove takes it away.")
        teams = scenario.load(now=moment.now())
        if options["verbosity"] > 0:
            named = " and ".join(f"{team} (/t/{team.slug}/)" for team in teams)
            self.stdout.write(f"Loaded {named}.")
            for line in welcome():
                self.stdout.write(line)
