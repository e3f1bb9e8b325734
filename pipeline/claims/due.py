"""A row that is due at a moment, and how workers share such rows without a second keeper.

A claim is one short transaction: it takes the row, counts the attempt, and sets the moment of the
next one before anything is tried. So a worker that dies has lost nothing: its row comes up again.
The work itself happens outside that transaction, and counts only where the claim still holds.

Who looks for due rows has no team yet. On PostgreSQL a function of the database takes the row and
tells its key and team, nothing else (pipeline/locks); all that follows is done ``as_team``.
"""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from typing import Any, ClassVar

from django.db import connection, models, transaction
from django.db.models import Q

from pipeline.locks.asking import as_team

from .backoff import wait

# How long a claim holds. Must stay well above the time that one piece of work may take.
LEASE = timedelta(minutes=5)
DIED = "The program ended in the middle of the last attempt."


# What failed: given up, or to be tried again.
STUCK = Q(gave_up_at__isnull=False) | (Q(next_attempt_at__isnull=False) & ~Q(last_error=""))


class Due(models.Model):
    """A row that is due; told apart by ``next_attempt_at`` alone from one that is finished."""

    # How often it is tried before it is given up.
    tries: ClassVar[int] = 8

    due_at = models.DateTimeField()
    # NULL: finished or given up. Ahead of ``due_at`` never; behind it after an attempt.
    next_attempt_at = models.DateTimeField(null=True, editable=False)
    attempts = models.PositiveSmallIntegerField(default=0, editable=False)
    # Of the last worker that took it. NULL: none did yet.
    claim = models.UUIDField(null=True, editable=False)
    # When it was taken last. NULL: never yet.
    claimed_at = models.DateTimeField(null=True, editable=False)
    # NULL: not given up.
    gave_up_at = models.DateTimeField(null=True, editable=False)
    # Why the last attempt failed, in words; empty: none did.
    last_error = models.CharField(max_length=300, blank=True, editable=False)

    class Meta:
        abstract = True

    def finish(self, **values: Any) -> bool:
        """Store ``values`` and be done; False, and nothing stored, where the claim was lost."""
        return self._store(next_attempt_at=None, last_error="", **values)

    def try_again(self, *, now: datetime, error: str) -> bool:
        """Note a failed attempt; after the last one give up. False where the claim was lost."""
        if self.attempts >= self.tries:
            return self.give_up(now=now, error=error)
        return self._store(next_attempt_at=now + wait(self.attempts), last_error=error[:300])

    def give_up(self, *, now: datetime, error: str) -> bool:
        """Try no more, and say why. False where the claim was lost."""
        return self._store(next_attempt_at=None, gave_up_at=now, last_error=error[:300])

    def _store(self, **values: Any) -> bool:
        held = type(self)._base_manager.filter(pk=self.pk, claim=self.claim)
        stored = held.filter(next_attempt_at__isnull=False).update(**values)
        for name, value in values.items() if stored else ():
            setattr(self, name, value)
        return bool(stored)


class DueRows:
    """What workers ask of such rows; goes before the QuerySet among a class's bases."""

    def waiting(self: Any, now: datetime) -> Any:
        """Return what may be tried at ``now``: due, and held by nobody."""
        return self.filter(next_attempt_at__lte=now)

    def given_up(self: Any) -> Any:
        """Return what was tried in vain as often as it is tried."""
        return self.filter(gave_up_at__isnull=False)

    def stuck(self: Any) -> Any:
        """Return what failed: given up, or to be tried again."""
        return self.filter(STUCK)

    def claim_next(self: Any, *, now: datetime) -> Any:
        """Take the row that has waited longest for this worker; ``None``: nothing waits.

        Any number of workers may call at once: no row is handed to two. A row whose every
        attempt ended with its worker is given up here, lest it take one worker after the other.
        """
        take = self._take_for_team if connection.vendor == "postgresql" else self._take
        while (row := take(now)) is not None:
            if row.attempts <= row.tries:
                return row
            with as_team(row.team_id):
                row.give_up(now=now, error=row.last_error or DIED)
        return None

    def _take_for_team(self: Any, now: datetime) -> Any:
        asked = [self.model._meta.db_table, now, LEASE, uuid.uuid4()]
        with connection.cursor() as cursor:
            cursor.execute("SELECT * FROM pipeline_claim(%s, %s, %s, %s)", asked)
            taken = cursor.fetchone()
        if taken is None:
            return None
        key, team = taken
        with as_team(team):
            return self.get(pk=key)

    def _take(self: Any, now: datetime) -> Any:
        # Looked at before, as the transaction is immediate: it would shut out all who write.
        if not self.waiting(now).exists():
            return None
        with transaction.atomic():
            row = self.waiting(now).order_by("next_attempt_at", "pk").first()
            if row is not None:
                row.claim, row.claimed_at = uuid.uuid4(), now
                row.attempts += 1
                row.next_attempt_at = now + LEASE
                row.save(update_fields=["claim", "claimed_at", "attempts", "next_attempt_at"])
            return row

    def revive(self: Any, *, now: datetime) -> int:
        """Let what was given up be tried anew; returns how many rows that was."""
        revived: int = self.given_up().update(
            next_attempt_at=now, gave_up_at=None, attempts=0, claim=None, last_error=""
        )
        return revived
