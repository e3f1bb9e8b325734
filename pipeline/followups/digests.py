"""The daily digest: one letter to one member with what is late, due and ahead."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from datetime import date, datetime

from django.conf import settings
from django.db import IntegrityError, transaction
from django.db.models import Exists, OuterRef
from django.template.loader import render_to_string

from pipeline.clock.zones import at_local
from pipeline.mail.outbox import close_up, write
from pipeline.teams.models import Member, Team

from .due import Agenda, agenda
from .models import Digest

log = logging.getLogger(__name__)


def write_digests(now: datetime) -> int:
    """Write the digests that are due at ``now``; returns how many letters that made.

    One transaction each: what goes wrong with one holds up no other.
    """
    written = 0
    for member, day in due_digests(now):
        try:
            written += write_digest(member, day, now=now)
        except Exception:
            log.exception("digest of %s for member %s was not written", day, member.pk)
    return written


def due_digests(now: datetime) -> Iterator[tuple[Member, date]]:
    """Yield the members whose digest is due, with their team's local day.

    Due is only ever the digest of today: days on which nothing ran are not made up for.
    """
    for team in Team.objects.order_by("pk"):
        try:
            day = team.today(now)
            reached = now >= at_local(day, team.digest_time(), team.timezone)
            if not reached or not team.calendar().is_working(day):
                continue
        except Exception:
            log.exception("digests of team %s could not be looked up", team.pk)
            continue
        made = Digest.objects.filter(team=team, member=OuterRef("pk"), day=day)
        members = Member.objects.for_team(team).who_write().with_user()
        for member in members.filter(~Exists(made), wants_digest=True, user__is_active=True):
            member.team = team
            yield member, day


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
