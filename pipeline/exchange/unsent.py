"""Old deliverables that a sheet brought unsent: one answer to all."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.db.models import F, QuerySet

from pipeline.leads.models import Lead
from pipeline.leads.settle import settle
from pipeline.teams.models import Member, Team
from pipeline.teams.refused import Refused
from sessions.models import Deliverable


def old_unsent(team: Team) -> QuerySet[Deliverable]:
    """Return what was due before the import that brought it, is owed, and got no answer yet."""
    found: QuerySet[Deliverable] = (
        Deliverable.objects.for_team(team)
        .owed()
        .filter(due_on__lt=F("plan_from"))
        .order_by("due_on", "pk")
    )
    return found


@transaction.atomic
def keep_owed(*, team: Team, up_to: int) -> int:
    """Let them stand as owed like any other; ``up_to`` is the highest key that was shown."""
    return old_unsent(team).filter(pk__lte=up_to).update(plan_from=None)


@transaction.atomic
def waive_all(*, team: Team, member: Member | None, now: datetime, reason: str, up_to: int) -> int:
    """Waive them, all for the same reason; ``up_to`` is the highest key that was shown."""
    if not reason.strip():
        raise Refused("Say why they will not be sent.", "reason")
    leads = list(
        Lead.objects.filter(pk__in=old_unsent(team).filter(pk__lte=up_to).values("lead"))
        .order_by("pk")
        .select_for_update(no_key=True)
        .values_list("pk", flat=True)
    )
    waived = (
        old_unsent(team)
        .filter(pk__lte=up_to)
        .update(
            waived_on=team.today(now),
            waived_reason=reason.strip(),
            marked_at=now,
            marked_by=member,
            version=F("version") + 1,
        )
    )
    settle(team, leads, now=now)
    return waived
