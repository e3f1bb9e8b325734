"""What a held session promises: made when it is held, taken back while nothing came of it."""

from __future__ import annotations

from datetime import datetime

from pipeline.teams.models import Member
from pipeline.teams.refused import Refused

from .models import CrewPlace, Deliverable, DiscoverySession, Part, Promise

# Who sees to what was promised: the first of these who is in the crew, still here, and writes.
SEES_TO_IT = (Part.NOTE_TAKER, Part.FACILITATOR)


def owner_of_promises(session: DiscoverySession, marked_by: Member | None) -> Member | None:
    """Return the note-taker, else the facilitator, else the member who marked it held."""
    places = CrewPlace.objects.filter(session=session).select_related("member")
    crew = {
        place.part: place.member
        for place in places
        if place.member.writes and place.member.left_on is None
    }
    return next((crew[part] for part in SEES_TO_IT if part in crew), marked_by)


def promise(session: DiscoverySession, member: Member | None, now: datetime) -> None:
    """Create the deliverables that the session's format promises, where they are missing."""
    calendar = session.team.calendar()
    owner = owner_of_promises(session, member)
    # what is there by hand or from a sheet keeps its day, its owner and its file
    there = set(session.deliverables.values_list("title", flat=True))
    Deliverable.objects.bulk_create(
        Deliverable(
            team=session.team,
            lead_id=session.lead_id,
            session=session,
            title=promised.title,
            due_on=calendar.add(session.day, promised.working_days),
            owner=owner,
            recorded_at=now,
            recorded_by=member,
        )
        for promised in Promise.objects.filter(format=session.format_id)
        if promised.title not in there
    )


def take_back(session: DiscoverySession) -> None:
    """Remove what the session promised; ``Refused`` where something was already made of it."""
    for deliverable in session.deliverables.all():
        done = (
            "was sent"
            if deliverable.sent_on
            else "was waived"
            if deliverable.waived_on
            else "has a file or a link"
            if deliverable.file or deliverable.link
            else ""
        )
        if done:
            raise Refused(
                f"{deliverable.title} {done}, so the session stays held. Undo that first."
            )
    session.deliverables.all().delete()
