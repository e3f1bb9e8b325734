"""Deliver waiting letters: claim one, hand it to a carrier outside any transaction, mark it."""

from __future__ import annotations

import logging
from datetime import datetime
from typing import Protocol

from .models import Letter

log = logging.getLogger(__name__)

# So many letters a round; the next round takes the rest.
BATCH = 500


class Carrier(Protocol):
    """Takes a letter on its way; raises where it could not."""

    def carry(self, letter: Letter) -> None: ...


class Kept:
    """Keeps letters in the app, where the pages of letters show them: nothing leaves it."""

    def carry(self, letter: Letter) -> None:
        """Do nothing: the row is the letter."""


def deliver(now: datetime, carrier: Carrier | None = None) -> int:
    """Send every letter that waits at ``now``; returns how many were sent.

    A letter that its carrier refuses stays, and is tried again once its claim has run out; it
    holds up no other.
    """
    carrier = carrier or Kept()
    # The often refused go last: they would crowd a round out.
    rows = Letter.objects.waiting(now).order_by("attempts", "due_at", "pk")
    waiting = rows.values_list("pk", flat=True)
    sent = 0
    for pk in list(waiting[:BATCH]):
        try:
            letter = Letter.objects.claim(pk, now=now)
            if letter is None:
                continue
            carrier.carry(letter)
            sent += letter.mark_sent(now=now)
        except Exception:
            log.exception("letter %s was not sent", pk)
    return sent
