"""``manage.py set_up``: what stands between a fresh checkout and the first page."""

from __future__ import annotations

import errno
import socket
from typing import Any

from django.conf import settings
from django.core.management import call_command, get_commands
from django.core.management.base import BaseCommand, CommandError
from django.db import Error as DatabaseError
from django.db import connection

from pipeline.exchange.welcome import welcome
from pipeline.teams.models import User


class Command(BaseCommand):
    """Migrate, load the demo into a database that nobody has used, and say how to sign in."""

    help = __doc__
    requires_system_checks = []

    def handle(self, *args: Any, **options: Any) -> None:
        check_port(settings.HOST, settings.PORT)
        # A pool would try again and again before it said why it cannot connect.
        options = connection.settings_dict["OPTIONS"]
        connection.settings_dict["OPTIONS"] = {k: v for k, v in options.items() if k != "pool"}
        try:
            call_command("migrate", verbosity=0, interactive=False)
            fresh = not User.objects.exists()
        except DatabaseError as error:
            reason = str(error).strip().splitlines()[0]
            raise CommandError(f"the database of DATABASE_URL cannot be used: {reason}") from error
        if fresh and settings.DEMO and "demo" in get_commands():
            self.stderr.write("Loading the demo. This is done once.")
            call_command("demo", verbosity=0)
        for line in welcome():
            self.stdout.write(line)


def check_port(host: str, port: int) -> None:
    """Raise ``CommandError`` unless a server can listen there."""
    try:
        family, kind, proto, _, address = socket.getaddrinfo(
            host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
        )[0]
        with socket.socket(family, kind, proto) as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            probe.bind(address)
    except OSError as error:
        if error.errno == errno.EADDRINUSE:
            raise CommandError(
                f"port {port} on {host} is taken: stop what listens there, or set PORT to another."
            ) from None
        raise CommandError(f"cannot listen on {host}, port {port}: {error.strerror}.") from None
