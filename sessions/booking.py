"""Book a session, move it, change what is known of it, cancel it, mark it missed."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import datetime

from django.db import transaction

from pipeline.clock.zones import local_day
from pipeline.leads.models import Contact, Lead
from pipeline.leads.settle import settle
from pipeline.teams.models import Member, Team
from pipeline.teams.refused import Refused

from .calendars.inviting import tell
from .locking import lock_lead, take_session
from .models import CrewPlace, DiscoverySession, Format, Part, State
from .models.format import LONGEST
from .promised import take_back
from .reminding import remind

Crew = Mapping[str, Sequence[Member]]

# Fields of a session that may be changed as they are.
PLAIN = ("place", "beforehand", "attendee_count", "effort_before", "effort_during", "effort_after")


@transaction.atomic
def book(
    *,
    lead: Lead,
    member: Member | None,
    now: datetime,
    format: Format,
    starts_at: datetime,
    minutes: int,
    crew: Crew,
    place: str = "",
    beforehand: str = "",
    attendees: Iterable[Contact] = (),
) -> DiscoverySession:
    """Book a session with ``lead``; one of the crew facilitates it.

    A start in the past is fine: a session that was held unbooked is entered this way too.
    """
    lead = lock_lead(lead.pk)
    team = lead.team
    if lead.merged_into_id:
        raise Refused("This lead was merged into another; book the session there.")
    if format.team_id != team.pk:
        raise Refused("Choose one of the team's formats.", "format")
    if format.retired_on is not None:
        raise Refused("This format is no longer booked; choose another.", "format")
    _check_minutes(minutes)
    session = DiscoverySession.objects.create(
        team=team,
        lead=lead,
        format=format,
        day=local_day(starts_at, team.timezone),
        starts_at=starts_at,
        minutes=minutes,
        place=place,
        beforehand=beforehand,
        recorded_at=now,
        recorded_by=member,
    )
    _set_crew(session, crew)
    _set_attendees(session, attendees)
    remind(session, now=now)
    settle(team, [lead.pk], now=now)
    return session


@transaction.atomic
def amend(
    *,
    session: DiscoverySession,
    member: Member | None,
    now: datetime,
    expected_version: int | None = None,
    starts_at: datetime | None = None,
    minutes: int | None = None,
    crew: Crew | None = None,
    attendees: Iterable[Contact] | None = None,
    plain: Mapping[str, object] | None = None,
) -> DiscoverySession:
    """Change what is known of a session: hour, crew, attendees, place, count and effort.

    What is not given stays; ``plain`` gives new values of fields named in ``PLAIN``.
    """
    row = take_session(session, expected_version)
    if starts_at is not None:
        day = local_day(starts_at, row.team.timezone)
        if row.state in (State.HELD, State.MISSED) and day > row.team.today(now):
            raise Refused(
                f"The session is marked {row.state}, so it can't start on a day that lies ahead. "
                "Put it back to booked first.",
                "starts_at",
            )
        row.starts_at, row.day = starts_at, day
    if minutes is not None:
        _check_minutes(minutes)
        row.minutes = minutes
    for name, value in (plain or {}).items():
        if name not in PLAIN:
            raise TypeError(f"{name} is not to be changed here")
        setattr(row, name, value)
    row.save_version(row.version)
    if crew is not None:
        _set_crew(row, crew)
    if attendees is not None:
        _set_attendees(row, attendees)
    if starts_at is not None or crew is not None:
        remind(row, now=now)
    tell(row, member, now)
    settle(row.team, [row.lead_id], now=now)
    return row


@transaction.atomic
def reschedule(
    *,
    session: DiscoverySession,
    member: Member | None,
    now: datetime,
    starts_at: datetime,
    minutes: int | None = None,
    place: str | None = None,
    expected_version: int | None = None,
) -> DiscoverySession:
    """Move a booked session to another time."""
    row = take_session(session, expected_version)
    if row.state != State.BOOKED:
        raise Refused(f"The session is marked {row.state}; only a booked one can be moved.")
    return amend(
        session=row,
        member=member,
        now=now,
        starts_at=starts_at,
        minutes=minutes,
        plain=None if place is None else {"place": place},
    )


@transaction.atomic
def cancel(
    *, session: DiscoverySession, member: Member | None, now: datetime, reason: str = ""
) -> DiscoverySession:
    """Cancel a booked session. The second time nothing changes."""
    row = take_session(session, None)
    if row.state == State.CANCELLED:
        return row
    if row.state != State.BOOKED:
        raise Refused(f"The session is marked {row.state}; only a booked one can be cancelled.")
    return _mark(row, State.CANCELLED, member, now, reason)


@transaction.atomic
def mark_missed(
    *, session: DiscoverySession, member: Member | None, now: datetime, reason: str = ""
) -> DiscoverySession:
    """Say that nobody of the lead came. The second time nothing changes.

    Corrects a session that was marked held by mistake, as long as nothing was made of it.
    """
    row = take_session(session, None)
    if row.state == State.MISSED:
        return row
    if row.state == State.CANCELLED:
        raise Refused("The session is cancelled; put it back to booked first.")
    if row.day > row.team.today(now):
        raise Refused("The session's day lies ahead. Cancel it, or mark it missed on the day.")
    if row.state == State.HELD:
        take_back(row)
    return _mark(row, State.MISSED, member, now, reason)


@transaction.atomic
def put_back(
    *, session: DiscoverySession, member: Member | None, now: datetime
) -> DiscoverySession:
    """Undo held, missed or cancelled: the session is booked again.

    A held session goes back only while nothing was made of what it promised.
    """
    row = take_session(session, None)
    if row.state == State.BOOKED:
        return row
    if row.state == State.HELD:
        take_back(row)
    row.state, row.marked_at, row.marked_by = State.BOOKED, None, None
    row.save_version(row.version)
    remind(row, now=now)
    tell(row, member, now)
    settle(row.team, [row.lead_id], now=now)
    return row


def _mark(
    row: DiscoverySession, state: State, member: Member | None, now: datetime, reason: str
) -> DiscoverySession:
    row.state, row.reason = state, reason
    row.marked_at, row.marked_by = now, member
    row.save_version(row.version)
    tell(row, member, now)
    settle(row.team, [row.lead_id], now=now)
    return row


def _check_minutes(minutes: int) -> None:
    if not 1 <= minutes <= LONGEST:
        raise Refused(f"A session takes 1 to {LONGEST} minutes.", "minutes")


def check_crew(team: Team, crew: Crew, already: Collection[int]) -> list[tuple[Member, str]]:
    """Return who does what; ``Refused`` unless one facilitates and nobody has two parts.

    Only present members who write may join a crew; who is in it ``already`` may stay.
    """
    if len(crew.get(Part.FACILITATOR, ())) != 1:
        raise Refused("Name exactly one facilitator.", "facilitator")
    if len(crew.get(Part.NOTE_TAKER, ())) > 1:
        raise Refused("Name one note-taker at most.", "note_taker")
    places = [(member, str(part)) for part in Part for member in crew.get(part, ())]
    seen: set[int] = set()
    for member, part in places:
        field = {Part.NOTE_TAKER: "note_taker", Part.SUPPORT: "supports"}.get(
            Part(part), "facilitator"
        )
        may = member.pk in already or (member.writes and member.left_on is None)
        if member.team_id != team.pk or not may:
            raise Refused(f"{member} can't be in the crew: choose members who write.", field)
        if member.pk in seen:
            raise Refused(f"{member} has two parts; give each member one.", field)
        seen.add(member.pk)
    return places


def _set_crew(session: DiscoverySession, crew: Crew) -> None:
    places = CrewPlace.objects.filter(session=session)
    stored = {(place.member_id, place.part): place.pk for place in places}
    already = {member for member, _ in stored}
    wanted = {(m.pk, part) for m, part in check_crew(session.team, crew, already)}
    places.filter(pk__in=[pk for place, pk in stored.items() if place not in wanted]).delete()
    CrewPlace.objects.bulk_create(
        CrewPlace(team=session.team, session=session, member_id=member, part=part)
        for member, part in sorted(wanted - stored.keys())
    )


def _set_attendees(session: DiscoverySession, attendees: Iterable[Contact]) -> None:
    chosen = list(attendees)
    if any(contact.lead_id != session.lead_id for contact in chosen):
        raise Refused("Attendees are people of this lead.", "attendees")
    session.attendees.set(chosen)
