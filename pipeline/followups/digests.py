"""The daily digest: one letter to one member with what is late, due and ahead."""

from __future__ import annotations

from datetime import date, datetime

from django.db import IntegrityError, transaction

from pipeline.jobs.models import Job
from pipeline.mail.models import Stops
from pipeline.mail.to_member import write_to_member
from pipeline.teams.models import Member, Team

from .due import Agenda, agenda
from .models import Digest
from .mornings import member_of


def digest_job(job: Job, now: datetime) -> None:
    """Write the digest that a job asks for; none for who has left or wants none by now."""
    member = member_of(job, "digest")
    if member is not None:
        write_digest(member, date.fromisoformat(job.about["day"]), now=now)


def write_digest(member: Member, day: date, *, now: datetime) -> bool:
    """Write a member's digest of ``day`` once; returns whether this call wrote a letter.

    Where nothing is due only the digest is noted.
    """
    try:
        with transaction.atomic():
            digest = Digest.objects.create(team=member.team, member=member, day=day)
            found = agenda(member.team, day, member, count_later=False)
            if not found:
                return False
            digest.letter = write_to_member(
                member,
                stops=Stops.DIGEST,
                key=day.isoformat(),
                subject=subject_of(found, member.team),
                template="digest",
                context={"agenda": found, "name": str(member)},
                due_at=now,
            )
            digest.save(update_fields=["letter"])
            return True
    except IntegrityError:
        if Digest.objects.filter(team=member.team, member=member, day=day).exists():
            return False
        raise


def subject_of(found: Agenda, team: Team) -> str:
    """Return the letter's subject: what is late and due, in numbers."""
    counts = (
        (len(found.late), "late"),
        (len(found.due), "due today"),
        (len(found.ahead), "ahead"),
    )
    told = ", ".join(f"{count} {words}" for count, words in counts if count)
    return f"{team}: {told}"
