"""``manage.py takeaway``: set a session's takeaway as a PDF."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from pipeline.locks.asking import as_team
from pipeline.teams.models import Team
from pipeline.typeset.setting import CannotBeSet, Document
from sessions.models import DiscoverySession
from sessions.takeaways.characters import named
from sessions.takeaways.setting import set_takeaway


class Command(BaseCommand):
    """Set a session's takeaway from what was caught and written up until now."""

    help = __doc__

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("session", type=int, metavar="SESSION_ID", help="as in its address")
        parser.add_argument("--out", required=True, metavar="FILE.pdf", help="where to write it")

    def handle(self, *args: Any, **options: Any) -> None:
        document = _set(options["session"])
        try:
            Path(options["out"]).write_bytes(document.pdf)
        except OSError as error:
            raise CommandError(f"--out: {options['out']} can't be written: {error}.") from error
        for words in named(document.missing):
            self.stderr.write(f"no font has {words}")
        self.stdout.write(f"{options['out']}: {len(document.pdf):,} bytes")


def _set(session: int) -> Document:
    # The number alone does not tell its team, and only within a team are there sessions.
    for team in Team.objects.all():
        with as_team(team.pk):
            found = DiscoverySession.objects.for_team(team).filter(pk=session).first()
            if found is None:
                continue
            try:
                return set_takeaway(found)
            except CannotBeSet as error:
                raise CommandError(f"The typesetter refuses this takeaway: {error}.") from error
    raise CommandError(f"SESSION_ID: there is no session {session}.")
