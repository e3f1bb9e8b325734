"""A form that is posted twice does its work once."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import datetime

from django.db import IntegrityError, transaction

from .models import Submission, Team


def do_once(
    *, team: Team, key: uuid.UUID, now: datetime, work: Callable[[], str]
) -> tuple[str, bool]:
    """Run ``work`` unless a form with ``key`` was received before.

    ``work`` writes, and returns the address to go to. Its writes and the receipt are one
    transaction; of two posts at the same moment the second waits for the first.

    Returns the address, and whether this call did the work.
    """
    try:
        with transaction.atomic():
            receipt = Submission.objects.create(team=team, key=key, url="", received_at=now)
            receipt.url = work()
            receipt.save(update_fields=["url"])
            return receipt.url, True
    except IntegrityError:
        # Either the receipt was there, or the work itself broke a rule of the database.
        earlier = Submission.objects.filter(team=team, key=key).first()
        if earlier is None:
            raise
        return earlier.url, False
