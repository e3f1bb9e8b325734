"""``manage.py let_back_in``: for who is shut out, and whom no letter can help."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import transaction

from pipeline.accounts.letters import tell
from pipeline.accounts.resetting import reset_link
from pipeline.accounts.second_factor import take_off
from pipeline.clock import moment
from pipeline.teams.models import User


class Command(BaseCommand):
    """Print a link with which a person sets a new password, good for once, within two hours."""

    help = __doc__

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("email", metavar="EMAIL")
        parser.add_argument(
            "--without-second-factor",
            action="store_true",
            help="take it off: telephone and recovery codes are lost",
        )

    @transaction.atomic
    def handle(self, *args: Any, **options: Any) -> None:
        now = moment.now()
        user = User.objects.filter(email__iexact=options["email"].strip(), is_active=True).first()
        if user is None:
            raise CommandError(f"EMAIL: there is no account of {options['email']}.")
        if options["without_second_factor"] and take_off(user=user, anyway=True):
            tell(user, "the second factor was taken off", now=now)
            self.stdout.write(f"{user.email} has no second factor any more.")
        self.stdout.write("First make sure who asks you. The link lets in whoever opens it:")
        self.stdout.write(reset_link(user, now=now))
