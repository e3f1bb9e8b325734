"""Attempts in vain slow the next ones, by account and by address; in rows, for many processes.

An attempt is counted before it is judged, so that many at once get no further than one by one; one
that succeeds is taken back. It is counted alike whether or not the account exists.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from ipaddress import IPv6Address, ip_address, ip_network

from django.conf import settings
from django.db import transaction
from django.db.models import F
from django.db.models.functions import Greatest
from django.http import HttpRequest
from django.utils.crypto import salted_hmac

from pipeline.teams.refused import Refused

from .models import Attempts

# So many attempts are free; then each one doubles the wait. Many people share one address.
# Common practice, no source.
FREE = {"account": 5, "address": 20, "code": 5, "reset": 3, "reset from": 20, "password": 5}
# Invitations to one person, and of one team.
FREE |= {"invitation": 5, "team asks": 50}
FIRST = timedelta(seconds=30)
# Whoever guesses shuts out the owner of the account no longer than this.
LONGEST = timedelta(minutes=15)
# After a quiet day all is forgotten.
FORGOTTEN = timedelta(days=1)


class Slowed(Refused):
    """Too many attempts went before; says in words when the next one is judged."""

    def __init__(self, wait: timedelta) -> None:
        self.seconds = max(1, -int(-wait.total_seconds() // 1))
        number, unit = -(-self.seconds // 60), "minute"
        if self.seconds < 60:
            number, unit = self.seconds, "second"
        told = f"{number} {unit}{'' if number == 1 else 's'}"
        super().__init__(f"Too many attempts. Wait {told}, then try again.")


@dataclass(frozen=True)
class Who:
    """By what attempts are counted: an account as typed, an address, a person."""

    kind: str
    name: str

    @property
    def digest(self) -> str:
        """What is kept of the name."""
        told = self.name.strip().casefold()
        return salted_hmac(f"pipeline.accounts.{self.kind}", told, algorithm="sha256").hexdigest()


def wait_after(failures: int, free: int) -> timedelta:
    """Return how long the next attempt waits after so many in vain."""
    if failures < free:
        return timedelta()
    return min(FIRST * (1 << min(failures - free, 10)), LONGEST)


@transaction.atomic
def admit(whose: Iterable[Who], *, now: datetime) -> None:
    """Count an attempt of each; raise ``Slowed``, and count nothing, where one must wait."""
    Attempts.objects.filter(last_at__lt=now - FORGOTTEN).delete()
    rows = [
        # in one order, so that two never wait for each other
        Attempts.objects.select_for_update().get_or_create(
            kind=who.kind, who=who.digest, defaults={"last_at": now, "open_from": now}
        )[0]
        for who in sorted(whose, key=lambda who: (who.kind, who.digest))
    ]
    # Of two at one moment the one that looked at the clock first may come second: it waits for
    # nothing while attempts are free.
    used_up = [row for row in rows if row.failures >= FREE[row.kind]]
    wait = max((row.open_from - now for row in used_up), default=timedelta())
    if wait > timedelta():
        raise Slowed(wait)
    for row in rows:
        row.failures += 1
        row.last_at, row.open_from = now, now + wait_after(row.failures, FREE[row.kind])
        row.save(update_fields=["failures", "last_at", "open_from"])


def forget(who: Who) -> None:
    """Forget the attempts that went before: this one succeeded."""
    Attempts.objects.filter(kind=who.kind, who=who.digest).delete()


def take_back(who: Who, *, now: datetime) -> None:
    """Count one attempt less, and let the next one wait for none of it."""
    rows = Attempts.objects.filter(kind=who.kind, who=who.digest)
    rows.update(failures=Greatest(F("failures") - 1, 0), open_from=now)


def caller(request: HttpRequest) -> str:
    """Return the address from which a request comes; of IPv6 the network, as a home has one.

    What a proxy adds to ``X-Forwarded-For`` counts only for as many as are trusted: whatever
    stands before is made up by whoever likes.
    """
    found = request.META.get("REMOTE_ADDR", "")
    if settings.TRUSTED_PROXIES:
        told = [part.strip() for part in request.headers.get("X-Forwarded-For", "").split(",")]
        if len(told) >= settings.TRUSTED_PROXIES:
            found = told[-settings.TRUSTED_PROXIES]
    try:
        address = ip_address(found)
    except ValueError:
        return "unknown"
    if isinstance(address, IPv6Address):
        if address.ipv4_mapped:
            return str(address.ipv4_mapped)
        return str(ip_network((address, 64), strict=False))
    return str(address)
