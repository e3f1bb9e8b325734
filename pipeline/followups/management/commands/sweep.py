"""Do due work once, by hand or from a scheduler."""

from typing import Any

from django.core.management.base import BaseCommand

from pipeline.clock import moment
from pipeline.followups.sweep import sweep


class Command(BaseCommand):
    help = "Do what is due now: bring leads up to date, write digests, deliver letters."

    def handle(self, *args: Any, **options: Any) -> None:
        done = sweep(moment.now())
        self.stdout.write(
            f"{done.leads} leads brought up to date, {done.digests} digests written, "
            f"{done.letters} letters delivered."
        )
