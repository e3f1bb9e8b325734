"""The weekly review: one letter to each member who wants it, readers too."""

from __future__ import annotations

from datetime import date, datetime

from pipeline.jobs.models import Job
from pipeline.mail.models import Stops
from pipeline.mail.to_member import write_to_member

from .mornings import member_of
from .weekly import review_of, weeks_told


def review_job(job: Job, now: datetime) -> None:
    """Write the review that a job asks for; none where there is nothing to tell."""
    member = member_of(job, "review")
    if member is None:
        return
    team, planned = job.team, date.fromisoformat(job.about["day"])
    first, last = weeks_told(team.calendar(), planned)
    review = review_of(team, first, last, team.today(now))
    if not review:
        return
    year, week, _ = planned.isocalendar()
    counts = ", ".join(f"{part.title.lower()} {part.count}" for part in review.told)
    write_to_member(
        member,
        stops=Stops.REVIEW,
        key=f"{year}-W{week:02}",
        subject=f"{team}, last week: {counts}",
        template="review",
        context={"review": review},
        due_at=now,
    )
