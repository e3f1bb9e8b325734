"""All takeaways of a month: asked for as rows, set one by one by whoever has time."""

from __future__ import annotations

import logging
from calendar import monthrange
from dataclasses import dataclass
from datetime import date, datetime

from django.core.files.base import ContentFile
from django.db import transaction

from pipeline.teams.models import Member, Team
from pipeline.teams.refused import Refused
from sessions.models import Batch, BatchItem, DiscoverySession

from .setting import file_name, set_takeaway

log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Progress:
    """How far a batch has come."""

    done: int
    given_up: int
    whole: int

    @property
    def left(self) -> int:
        """How many are still to be set."""
        return self.whole - self.done - self.given_up


def progress_of(items: list[BatchItem]) -> Progress:
    """Count what is done, given up and left among a batch's items."""
    return Progress(
        done=sum(item.done_at is not None for item in items),
        given_up=sum(item.given_up for item in items),
        whole=len(items),
    )


@transaction.atomic
def ask(*, team: Team, member: Member | None, now: datetime, month: date) -> Batch:
    """Ask for the takeaways of all sessions held in ``month``, in place of an earlier batch."""
    first = month.replace(day=1)
    last = first.replace(day=monthrange(first.year, first.month)[1])
    held = DiscoverySession.objects.for_team(team).held().in_days(first, last)
    sessions = list(held.values_list("pk", flat=True))
    if not sessions:
        raise Refused(
            "No session was held in this month; choose another, or mark its sessions held first.",
            "month",
        )
    _remove_earlier(team, first)
    batch: Batch = Batch.objects.create(team=team, month=first, asked_at=now, asked_by=member)
    BatchItem.objects.bulk_create(
        BatchItem(team=team, batch=batch, session_id=session) for session in sessions
    )
    return batch


def set_waiting(now: datetime, batch: int | None = None) -> int:
    """Set what waits, of one batch or of all; returns how many were set.

    Any number of workers may run at once. What fails holds up no other; it is tried again once
    its claim has run out.
    """
    rows = BatchItem.objects.waiting(now)
    if batch is not None:
        rows = rows.filter(batch=batch)
    done = 0
    for pk in list(rows.order_by("pk").values_list("pk", flat=True)):
        try:
            item = BatchItem.objects.claim(pk, now=now)
            if item is not None:
                done += _set(item, now)
        except Exception:
            log.exception("takeaway of batch item %s was not set", pk)
    return done


def _set(item: BatchItem, now: datetime) -> bool:
    """Set one takeaway and keep it, where the claim still holds."""
    document = set_takeaway(item.session)
    item.file_name = file_name(item.session)
    item.file.save(item.file_name, ContentFile(document.pdf), save=False)
    rows = BatchItem.objects.filter(pk=item.pk, claim=item.claim, done_at=None)
    kept = rows.update(
        file=item.file.name,
        file_name=item.file_name,
        missing="".join(document.missing),
        done_at=now,
        claimed_until=None,
    )
    if not kept:
        item.file.storage.delete(item.file.name)
    return bool(kept)


def _remove_earlier(team: Team, month: date) -> None:
    earlier = Batch.objects.for_team(team).filter(month=month)
    items = BatchItem.objects.filter(batch__in=earlier).exclude(file="")
    stored = [item.file for item in items]
    earlier.delete()
    for file in stored:
        transaction.on_commit(lambda file=file: file.storage.delete(file.name))  # type: ignore[misc]
