"""Invitations to a session, and what follows them: changes and cancellations, by letter.

Whoever was invited once is told of each change, without anybody having to think of it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from django.db import transaction
from django.template.loader import render_to_string
from django.utils.formats import date_format

from pipeline.leads.models import Contact
from pipeline.mail.models import StoppedAddress, Stops
from pipeline.mail.outbox import close_up, write
from pipeline.mail.stopped import with_way_out
from pipeline.teams.models import Member, Team
from pipeline.teams.refused import Refused
from sessions.locking import take_session
from sessions.models import CalendarEntry, DiscoverySession, State

from .entry import Entry, Method, Person, Status, calendar_file
from .of_session import (
    Invitee,
    description_of,
    entry_of,
    invitees_of,
    title_for_all,
    told_of,
    uid_of,
)


@dataclass(frozen=True)
class Told:
    """A letter to be written: to whom, and what kind of news it is."""

    invitee: Invitee
    kind: str  # invited | changed | removed | cancelled

    @property
    def method(self) -> Method:
        return Method.REQUEST if self.kind in ("invited", "changed") else Method.CANCEL


def may_be_told(session: DiscoverySession, now: datetime) -> bool:
    """Tell whether a session has an hour that is not over: of the past nobody is told."""
    return session.ends_at is not None and session.ends_at > now


@transaction.atomic
def invite(*, session: DiscoverySession, member: Member | None, now: datetime) -> int:
    """Invite crew and people of a booked session by letter; returns how many letters that made.

    Who was invited already gets nothing anew, unless something has changed.
    """
    row = take_session(session, None)
    if row.state != State.BOOKED:
        raise Refused(f"The session is marked {row.state}; only to a booked one people are asked.")
    if not may_be_told(row, now):
        raise Refused("Give the session an hour that lies ahead, then invite its people.")
    people = invitees_of(row)
    if not people:
        raise Refused("Nobody of this session has an e-mail address to be invited at.")
    organizer = people[0].person
    entry, new = CalendarEntry.objects.get_or_create(
        team=row.team,
        session=row,
        defaults={
            "organizer_email": organizer.email,
            "organizer_name": organizer.name,
            "told_at": now,
        },
    )
    return _tell(row, entry, member, now, first=new)


def tell(session: DiscoverySession, member: Member | None, now: datetime) -> int:
    """Bring those who were invited up to date; part of whatever changes a session.

    Returns how many letters that made: none where nobody was invited, or nothing is news.
    """
    entry = CalendarEntry.objects.filter(team=session.team_id, session=session).first()
    if entry is None or not may_be_told(session, now):
        return 0
    return _tell(session, entry, member, now, first=False)


def news(
    *,
    before: Iterable[Invitee],
    after: Iterable[Invitee],
    changed: bool,
    cancelled: bool,
    withdrawn: bool,
) -> list[Told]:
    """Return who has to be told what, when those who had the entry and should have it differ.

    ``changed``: time, place or words are not those last told; ``withdrawn``: it was last taken
    off all calendars.
    """
    had = {invitee.person.email.casefold(): invitee for invitee in before}
    have = {invitee.person.email.casefold(): invitee for invitee in after}
    if cancelled:
        return [] if withdrawn else [Told(invitee, "cancelled") for invitee in had.values()]
    if withdrawn:
        return [Told(invitee, "invited") for invitee in have.values()]
    told = [Told(invitee, "removed") for email, invitee in had.items() if email not in have]
    for email, invitee in have.items():
        if email not in had:
            told.append(Told(invitee, "invited"))
        elif changed:
            told.append(Told(invitee, "changed"))
    return told


def _tell(
    session: DiscoverySession,
    entry: CalendarEntry,
    member: Member | None,
    now: datetime,
    *,
    first: bool,
) -> int:
    if session.state not in (State.BOOKED, State.CANCELLED):
        return 0
    organizer = Person(entry.organizer_email, entry.organizer_name)
    cancelled = session.state == State.CANCELLED
    zone = session.team.timezone
    after = [i for i in invitees_of(session) if i.person.email != organizer.email]
    zones = {i.person.email.casefold(): i for i in after}
    # Who asked for no more letters since then hears of nothing, not even that it is cancelled.
    stopped = StoppedAddress.objects.of(session.team, [email for email, _ in entry.people])
    before = [
        zones.get(email.casefold(), Invitee(Person(email, name), zone))
        for email, name in entry.people
        if email not in stopped or email.casefold() in zones
    ]
    told = told_of(session)
    letters = news(
        before=before,
        after=after,
        changed=told != entry.told,
        cancelled=cancelled,
        withdrawn=entry.withdrawn,
    )
    if not letters and told == entry.told and cancelled == entry.withdrawn:
        return 0
    if not first:
        entry.sequence += 1
    entry.told, entry.withdrawn, entry.told_at = told, cancelled, now
    entry.people = [[i.person.email, i.person.name] for i in ([] if cancelled else after)]
    entry.save()
    everybody = (organizer, *(i.person for i in after))
    for letter in letters:
        _write(session, entry.sequence, organizer, everybody, letter, member, now)
    return len(letters)


def _write(
    session: DiscoverySession,
    sequence: int,
    organizer: Person,
    everybody: tuple[Person, ...],
    told: Told,
    member: Member | None,
    now: datetime,
) -> None:
    team, to = session.team, told.invitee
    outside = to.member_id is None
    if told.method == Method.REQUEST:
        entry = entry_of(
            session, stamp=now, sequence=sequence, organizer=organizer, people=everybody
        )
    else:
        entry = Entry(
            uid=uid_of("session", session.pk),
            stamp=now,
            sequence=sequence,
            summary=title_for_all(session),
            # who alone is taken off must not believe that it is called off for all
            status=Status.CANCELLED if told.kind == "cancelled" else None,
            organizer=organizer,
            people=(to.person,),
        )
    text = close_up(
        render_to_string(
            "mail/session.txt",
            {
                "kind": told.kind,
                "to": to.person.name or "to you",
                "by": member,
                "team": team,
                "lead": session.lead,
                "hours": in_both_zones(session.starts_at, session.minutes, to.zone, team),
                "needs": description_of(session),
                "organizer": organizer,
            },
        )
    )
    write(
        team=team,
        key=f"session|{session.pk}|{sequence}|{to.person.email.casefold()}",
        to=to.person.email,
        subject=f"{SUBJECTS[told.kind]}: {title_for_all(session)}",
        text=with_way_out(text, team, to.person.email) if outside else text,
        calendar=calendar_file([entry], method=told.method),
        due_at=now,
        member=Member.objects.filter(pk=to.member_id).first() if to.member_id else None,
        by=member,
        stops=Stops.LETTERS if outside else "",
    )


SUBJECTS = {
    "invited": "Invitation",
    "changed": "Changed",
    "removed": "You are no longer needed",
    "cancelled": "Cancelled",
}


def in_both_zones(starts_at: datetime | None, minutes: int, zone: str, team: Team) -> list[str]:
    """Return an hour in words on the clock of ``zone``, and on the team's where that differs."""
    if starts_at is None:
        return []
    own = hour_in(starts_at, minutes, zone)
    teams = hour_in(starts_at, minutes, team.timezone)
    same = own.rpartition(" (")[0] == teams.rpartition(" (")[0]
    return [own] if same else [own, teams]


def hour_in(starts_at: datetime, minutes: int, zone: str) -> str:
    """Return an hour as ``Wednesday 4 March 2026, 10:00 to 11:00 (Europe/Lisbon)``."""
    start = starts_at.astimezone(ZoneInfo(zone))
    end = (starts_at + timedelta(minutes=minutes)).astimezone(ZoneInfo(zone))
    until = "H:i" if end.date() == start.date() else "l j F, H:i"
    return f"{date_format(start, 'l j F Y, H:i')} to {date_format(end, until)} ({zone})"


def zone_of(contact: Contact | None, team: Team) -> str:
    """Return the zone of a contact's clock: the team's where nothing else is known."""
    return (contact.timezone if contact else "") or team.timezone
