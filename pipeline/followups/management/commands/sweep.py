"""Do due work once, by hand or from a scheduler."""

from typing import Any

from django.core.management.base import BaseCommand

from pipeline.clock import moment
from pipeline.followups.sweep import sweep


class Command(BaseCommand):
    help = "Do what is due now: begin the day's rounds, do jobs, deliver letters."

    def handle(self, *args: Any, **options: Any) -> None:
        done = sweep(moment.shared())
        self.stdout.write(
            f"{done.rounds} rounds begun, {done.jobs} jobs done, {done.letters} letters delivered."
        )
