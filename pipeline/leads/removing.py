"""Remove a lead that was entered by mistake, and put back what was removed."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from pipeline.history.forgetting import forget_removed
from pipeline.history.models import Change
from pipeline.history.restoring import put_back
from pipeline.jobs.models import Job
from pipeline.teams.models import Team
from pipeline.teams.refused import Refused

from .models import Lead
from .rules import hold
from .settle import settle


@transaction.atomic
def remove_lead(*, lead: Lead) -> None:
    """Remove a lead with all its facts; for thirty days it can be put back.

    Refused while somebody outside counts on it: other leads that were merged into it.
    """
    row = hold(lead.pk)
    if Lead.objects.for_team(row.team).filter(merged_into=row).exists():
        raise Refused("Another lead was merged into this one. Part them first.")
    row.delete()


def forget_job(job: Job, now: datetime) -> None:
    """Forget what the job's team removed more than thirty days ago."""
    forget_removed(job.team, now)


@transaction.atomic
def put_back_removed(*, team: Team, change: Change, now: datetime) -> int:
    """Put back what was removed in one act; returns how many leads that concerned."""
    keys = put_back(team=team, change=change, now=now)
    leads = list(Lead.objects.for_team(team).filter(pk__in=keys).values_list("pk", flat=True))
    settle(team, leads, now=now)
    return len(leads)
