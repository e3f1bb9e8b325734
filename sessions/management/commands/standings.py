"""Prove that the stored standings agree with the facts, or make them agree."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import transaction

from pipeline.clock import moment
from pipeline.leads.models import Lead
from pipeline.leads.settle import BATCH
from pipeline.locks.asking import as_team
from pipeline.teams.models import Team
from sessions.standing import STORED, settle, wrong_copies


class Command(BaseCommand):
    help = (
        "Compare the stored standing of every lead with the one computed from its facts. "
        "Ends with 1 and lists where they differ; --refresh stores the computed ones."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--team", metavar="SLUG", help="only this team")
        which = parser.add_mutually_exclusive_group()
        which.add_argument("--check", action="store_true", help="compare only (the default)")
        which.add_argument("--refresh", action="store_true", help="store the computed standings")

    def handle(self, *args: Any, **options: Any) -> None:
        teams = Team.objects.all()
        if options["team"]:
            teams = teams.filter(slug=options["team"])
            if not teams:
                raise CommandError(f"There is no team {options['team']}.", returncode=2)
        now = moment.now()
        seen = wrong = 0
        for team in teams:
            with as_team(team.pk):
                ids = list(Lead.objects.for_team(team).order_by("pk").values_list("pk", flat=True))
            seen += len(ids)
            for start in range(0, len(ids), BATCH):
                batch = ids[start : start + BATCH]
                with transaction.atomic(), as_team(team.pk):
                    for stored, computed in wrong_copies(team, batch, team.today(now)):
                        wrong += 1
                        self.stdout.write(
                            f"{team.slug} {stored.pk} {stored}: {told(stored, computed)}"
                        )
                    if options["refresh"]:
                        settle(team, batch, now)
        if wrong and not options["refresh"]:
            raise CommandError(f"{wrong} of {seen} stored standings differ from the facts.")
        mended = f"; {wrong} mended" if wrong else ""
        self.stdout.write(f"{seen} stored standings agree with the facts{mended}.")


def told(stored: Lead, computed: Lead) -> str:
    """Return in words what is stored and what the facts say."""
    return ", ".join(
        f"{name} is {getattr(stored, name)}, should be {getattr(computed, name)}"
        for name in STORED
        if getattr(stored, name) != getattr(computed, name)
    )
