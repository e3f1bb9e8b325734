"""How many enquiries are taken in: so many an hour from one network, and so many in all."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.utils.crypto import salted_hmac

from pipeline.jobs.models import Job
from pipeline.jobs.planning import plan_job
from pipeline.teams.models import Team

from .models import Arrival

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
# Common practice, no source: an office behind one address gets through, a machine is held up.
MOST_OF_NETWORK, MOST_OF_TEAM = 5, 60


class TooMany(Exception):
    """More came within the hour than are taken in; one more is, after ``wait``."""

    def __init__(self, wait: timedelta) -> None:
        super().__init__(f"taken in again in {wait}")
        self.wait = wait


def network_hash(team: Team, network: str) -> str:
    """Return by what a network is known to ``team`` for a day; its address can't be read from it.

    Other teams know the same network by something else.
    """
    said = f"{team.pk}|{network}"
    return salted_hmac("pipeline.enquiries.arrivals", said, algorithm="sha256").hexdigest()


def count_in(*, team: Team, network: str, now: datetime) -> None:
    """Note that an enquiry came; raise ``TooMany`` where no more are taken in.

    Call it with the team's page held: of many at once each counts those before it.
    """
    recent = Arrival.objects.for_team(team).filter(at__gt=now - HOUR).order_by("-at")
    limits = ((recent.filter(network=network), MOST_OF_NETWORK), (recent, MOST_OF_TEAM))
    for rows, most in limits:
        for first in rows.values_list("at", flat=True)[most - 1 : most]:
            raise TooMany(first + HOUR - now)
    Arrival.objects.create(team=team, network=network, at=now)
    plan_job(
        team=team,
        kind="forget arrivals",
        key=now.isoformat(),
        due_at=now + DAY,
        now=now,
    )


def forget_arrivals_job(job: Job, now: datetime) -> None:
    """Forget from where enquiries of the job's team came a day ago and before."""
    Arrival.objects.for_team(job.team).filter(at__lte=now - DAY).delete()
