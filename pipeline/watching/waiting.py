"""What waits, what was tried in vain and what was done lately, asked of the rows themselves.

Each question reads a part of an index that grows with the answer and not with the table.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.db.models import Avg, Count, F, Max, Min, Q

from pipeline.jobs.models import Job, Round
from pipeline.locks.asking import as_watcher
from pipeline.mail.models import Letter

# By the name under which their numbers are given out.
KINDS: dict[str, Any] = {"letter": Letter, "job": Job, "round": Round}
# A sweep comes every minute: what has waited longer than two is late.
LATE = timedelta(minutes=2)
LATELY = timedelta(minutes=15)


@dataclass(frozen=True)
class Waiting:
    """Rows of one kind at a moment."""

    due: int
    late: int
    # Of the row that has waited longest.
    oldest: timedelta
    # To be tried again, after a failure.
    failed: int
    given_up: int


@dataclass(frozen=True)
class Lately:
    """Rows of one kind that a worker took within the last minutes, LATELY."""

    claimed: int
    done: int
    # From due to claim, of those taken for the first time.
    mean_wait: timedelta
    longest_wait: timedelta


def oldest(kind: str, now: datetime) -> datetime | None:
    """Return since when the row that has waited longest is due; ``None``: nothing waits."""
    with as_watcher():
        found = KINDS[kind].objects.waiting(now).aggregate(since=Min("next_attempt_at"))
    since: datetime | None = found["since"]
    return since


def waiting(kind: str, now: datetime) -> Waiting:
    """Count what is due, late, failed and given up."""
    rows = KINDS[kind].objects
    with as_watcher():
        due = rows.waiting(now).aggregate(
            count=Count("*"),
            late=Count("next_attempt_at", filter=Q(next_attempt_at__lt=now - LATE)),
            since=Min("next_attempt_at"),
        )
        stuck = rows.stuck().aggregate(
            count=Count("*"), given_up=Count("gave_up_at", filter=Q(gave_up_at__isnull=False))
        )
    return Waiting(
        due=due["count"],
        late=due["late"],
        oldest=now - due["since"] if due["since"] else timedelta(),
        failed=stuck["count"] - stuck["given_up"],
        given_up=stuck["given_up"],
    )


def lately(kind: str, now: datetime) -> Lately:
    """Count what was taken lately, and how long it had waited; a round has moved on by then."""
    done = Q(sent_at__isnull=False) if kind == "letter" else Q(done_at__isnull=False)
    first = Q(attempts=1)
    wait = F("claimed_at") - F("due_at")
    rows = KINDS[kind].objects.filter(claimed_at__gt=now - LATELY)
    with as_watcher():
        found = rows.aggregate(
            claimed=Count("*"),
            done=Count("claimed_at", filter=done),
            mean=Avg(wait, filter=first),
            longest=Max(wait, filter=first),
        )
    return Lately(
        claimed=found["claimed"],
        done=found["done"],
        mean_wait=found["mean"] or timedelta(),
        longest_wait=found["longest"] or timedelta(),
    )
