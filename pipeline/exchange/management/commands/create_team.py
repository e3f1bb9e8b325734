"""``manage.py create_team``: a team and its owner from the command line."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from pipeline.accounts.links import sign_in_link
from pipeline.clock import moment
from pipeline.exchange.founding import found_team
from pipeline.teams.refused import Refused

OPTIONS = {
    "name": "NAME",
    "slug": "--slug",
    "owner_email": "--owner",
    "timezone": "--timezone",
    "country": "--country",
    "subdivision": "--subdivision",
    "currency": "--currency",
}


class Command(BaseCommand):
    """Make a team with default formats and plan, and print its owner's sign-in link."""

    help = __doc__

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("name", metavar="NAME")
        parser.add_argument("--slug", required=True, help="its name in addresses: /t/SLUG/")
        parser.add_argument("--owner", required=True, metavar="EMAIL", dest="owner_email")
        parser.add_argument("--timezone", required=True, metavar="ZONE")
        parser.add_argument("--country", required=True, metavar="CC", help="of public holidays")
        parser.add_argument("--subdivision", default="", metavar="CODE", help="of the country")
        parser.add_argument("--currency", default="EUR", metavar="CODE", help="ISO 4217")

    def handle(self, *args: Any, **options: Any) -> None:
        asked = {name: options[name] for name in OPTIONS}
        try:
            team, owner = found_team(**asked, now=moment.now())
        except Refused as refused:
            raise CommandError(f"{OPTIONS[refused.field or 'name']}: {refused}") from None
        self.stdout.write(f"{team} stands at /t/{team.slug}/.")
        self.stdout.write(
            f"{owner.user.email} signs in here, once, within three days:\n"
            f"{sign_in_link(owner.user)}"
        )
