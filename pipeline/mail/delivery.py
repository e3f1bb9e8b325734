"""Deliver waiting letters: claim one, hand it to a carrier outside any transaction, mark it.

At least once, with the same Message-ID each time: a letter is doubled only where its worker ends,
or the database stays away, between the server's acceptance and the mark.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from datetime import datetime, timedelta
from threading import Event
from typing import Any

from django.conf import settings
from django.db import DatabaseError, connection

from pipeline.clock.moment import running_from
from pipeline.locks.asking import as_team

from .carriers import Carrier, Kept, RefusedForGood
from .models import Letter, StoppedAddress, Stops
from .smtp import Smtp

log = logging.getLogger(__name__)

# So many letters a call, and so long; the next one takes the rest. A worker's call is ended by
# force only long after that (CELERY_TASK_TIME_LIMIT).
MOST = 500
LONGEST = timedelta(minutes=10)
# Seconds until the mark of a letter that has gone out is tried again: a database that restarts
# is back within them, and the letter is not sent twice.
PATIENCE = (0.5, 1.0, 2.0, 4.0, 8.0)


def carrier_of_settings() -> Carrier:
    """Return the carrier that EMAIL_URL names; without it letters are kept in the app."""
    return Smtp(settings.MAIL_SERVER) if settings.MAIL_SERVER else Kept()


def deliver(now: datetime, carrier: Carrier | None = None, *, most: int = MOST) -> int:
    """Send every letter that waits at ``now``; returns how many were sent.

    A letter that its carrier refuses is tried again later, and holds up no other.
    """
    clock = running_from(now)
    carrier = carrier or carrier_of_settings()
    sent = 0
    try:
        for _ in range(most):
            waiting = Letter.objects.with_sender()
            letter = waiting.claim_next(now=clock()) if clock() < now + LONGEST else None
            if letter is None:
                break
            sent += _send(letter, carrier, clock)
    finally:
        carrier.close()
    return sent


def _send(letter: Letter, carrier: Carrier, clock: Callable[[], datetime]) -> bool:
    with as_team(letter.team_id):
        if letter.stops == Stops.LETTERS and StoppedAddress.objects.has(letter.team, letter.to):
            letter.finish(withheld_at=clock())
            return False
    try:
        carrier.carry(letter)
    except RefusedForGood as refused:
        log.warning("letter %s was refused for good", letter.pk)
        with as_team(letter.team_id):
            letter.give_up(now=clock(), error=str(refused))
        return False
    except Exception as error:
        # The words of a mail server may name people: they are for the team's owner, not the log.
        log.warning("letter %s was not sent: %s", letter.pk, type(error).__name__)
        with as_team(letter.team_id):
            letter.try_again(now=clock(), error=str(error) or type(error).__name__)
        return False
    return _mark_sent(letter, clock)


def _mark_sent(letter: Letter, clock: Callable[[], datetime]) -> bool:
    kept = {"text": "", "html": ""} if letter.private else {}
    for pause in PATIENCE:
        try:
            return _finish(letter, sent_at=clock(), **kept)
        except DatabaseError:
            log.warning("letter %s was sent; the database takes no mark yet", letter.pk)
            connection.close()
            Event().wait(pause)
    return _finish(letter, sent_at=clock(), **kept)


def _finish(letter: Letter, **values: Any) -> bool:
    with as_team(letter.team_id):
        return letter.finish(**values)
