"""All takeaways of a month: asked for as rows, each set by a job."""

from __future__ import annotations

from calendar import monthrange
from dataclasses import dataclass
from datetime import date, datetime

from django.core.files.base import ContentFile
from django.db import transaction

from pipeline.jobs.models import Job
from pipeline.jobs.planning import job_of, plan_jobs
from pipeline.teams.models import Member, Team
from pipeline.teams.refused import Refused
from sessions.models import Batch, BatchItem, DiscoverySession
from sessions.models.batch import KIND

from .setting import file_name, set_takeaway


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
    items = BatchItem.objects.bulk_create(
        BatchItem(team=team, batch=batch, session_id=session) for session in sessions
    )
    jobs = [
        job_of(team=team, kind=KIND, key=f"{item.pk}", due_at=now, about={"item": item.pk})
        for item in items
    ]
    plan_jobs(jobs, now=now)
    return batch


def set_item_job(job: Job, now: datetime) -> None:
    """Set one takeaway and keep it; none where another batch has taken the place of its own."""
    waiting = BatchItem.objects.for_team(job.team).filter(pk=job.about["item"], done_at=None)
    item = waiting.select_related("session__team", "batch").first()
    if item is None:
        return
    document = set_takeaway(item.session)
    item.file_name = file_name(item.session)
    item.missing = "".join(document.missing)
    item.done_at = now
    item.file.save(item.file_name, ContentFile(document.pdf), save=False)
    try:
        item.save(update_fields=["file", "file_name", "missing", "done_at"])
    except BaseException:
        # the row does not know of the file: nobody would ever find it
        item.file.storage.delete(item.file.name)
        raise


def _remove_earlier(team: Team, month: date) -> None:
    earlier = Batch.objects.for_team(team).filter(month=month)
    items = BatchItem.objects.filter(batch__in=earlier).exclude(file="")
    stored = [item.file for item in items]
    earlier.delete()
    for file in stored:
        transaction.on_commit(lambda file=file: file.storage.delete(file.name))  # type: ignore[misc]
