"""The daily digest: one letter to one member with what is late, due and ahead."""

from __future__ import annotations

from datetime import date, datetime

from django.conf import settings
from django.db import IntegrityError, transaction
from django.template.loader import render_to_string

from pipeline.jobs.models import Job
from pipeline.mail.models import Stops
from pipeline.mail.outbox import close_up, write
from pipeline.teams.models import Member, Team

from .due import Agenda, agenda
from .models import Digest


def digest_job(job: Job, now: datetime) -> None:
    """Write the digest that a job asks for; none for who has left or wants none by now."""
    members = Member.objects.for_team(job.team).who_write().with_user()
    member = members.filter(
        pk=job.about["member"], wants_digest=True, user__is_active=True
    ).first()
    if member is not None:
        member.team = job.team
        write_digest(member, date.fromisoformat(job.about["day"]), now=now)


def write_digest(member: Member, day: date, *, now: datetime) -> bool:
    """Write a member's digest of ``day`` once; returns whether this call wrote a letter.

    Where nothing is due only the digest is noted.
    """
    try:
        with transaction.atomic():
            digest = Digest.objects.create(team=member.team, member=member, day=day)
            found = agenda(member.team, day, member)
            if not found:
                return False
            digest.letter = write(
                team=member.team,
                member=member,
                key=f"digest|{day.isoformat()}|{member.pk}",
                to=member.user.email,
                subject=subject_of(found, member.team),
                text=close_up(render_to_string("mail/digest.txt", _context(member, found))),
                html=render_to_string("mail/digest.html", _context(member, found)),
                due_at=now,
                stops=Stops.DIGEST,
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


def _context(member: Member, found: Agenda) -> dict[str, object]:
    return {"member": member, "team": member.team, "agenda": found, "base_url": settings.BASE_URL}
