"""A session as an entry of a calendar."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.conf import settings

from pipeline.leads.models import Contact
from pipeline.mail.models import StoppedAddress
from pipeline.mail.outbox import own_host
from pipeline.teams.models import Member
from sessions.models import DiscoverySession, Part, State

from .entry import Entry, Person, Status


@dataclass(frozen=True)
class Invitee:
    """Somebody who takes part, with the zone of their clock."""

    person: Person
    zone: str
    # NULL: one of the lead.
    member_id: int | None = None


def of_member(member: Member) -> Person:
    """Return a member as somebody with an address."""
    return Person(member.user.email, member.user.name)


def uid_of(kind: str, pk: int) -> str:
    """Return the name of a row's entry: the same in every file and every calendar."""
    return f"{uuid.uuid5(uuid.NAMESPACE_URL, f'{settings.BASE_URL}/{kind}/{pk}')}@{own_host()}"


def is_link(place: str) -> bool:
    """Tell whether a session's place is a link to join by."""
    return place.startswith(("https://", "http://")) and " " not in place


def title_of(session: DiscoverySession) -> str:
    """Return what a session is called among the team."""
    return f"{session.format.name if session.format else 'Session'}: {session.lead}"


def title_for_all(session: DiscoverySession) -> str:
    """Return what a session is called in calendars where nobody knows whose it is."""
    return f"{title_of(session)} with {session.team}"


def description_of(session: DiscoverySession) -> str:
    """Return what somebody who takes part needs to know."""
    lines = []
    if session.place:
        lines.append(f"{'Join' if is_link(session.place) else 'Place'}: {session.place}")
    if session.beforehand:
        lines.append(f"Please open beforehand: {session.beforehand}")
    return "\n".join(lines)


def told_of(session: DiscoverySession) -> dict[str, Any]:
    """Return what those invited are told; where it differs from last time they are told anew."""
    assert session.starts_at is not None
    return {
        "starts_at": session.starts_at.isoformat(),
        "minutes": session.minutes,
        "title": title_for_all(session),
        "place": session.place,
        "beforehand": session.beforehand,
    }


def invitees_of(session: DiscoverySession) -> list[Invitee]:
    """Return crew and people of the lead who have an address, each address once.

    The facilitator comes first, and is the organiser of a first invitation. Who of the lead asked
    for no more letters is left out.
    """
    zone = session.team.timezone
    places = session.crew.select_related("member__user").order_by("pk")
    crew = sorted(places, key=lambda place: place.part != Part.FACILITATOR)
    found = [Invitee(of_member(place.member), zone, place.member_id) for place in crew]
    contacts: Any = session.attendees.exclude(email="").order_by("name", "pk")
    stopped = stopped_of(session)
    found += [_contact(contact, zone) for contact in contacts if contact not in stopped]
    once: dict[str, Invitee] = {}
    for invitee in found:
        once.setdefault(invitee.person.email.casefold(), invitee)
    return list(once.values())


def stopped_of(session: DiscoverySession) -> dict[Contact, datetime]:
    """Return those of the lead who take part and asked for no more letters, and since when."""
    people = [contact for contact in session.attendees.all() if contact.email]
    since = StoppedAddress.objects.of(session.team, [contact.email for contact in people])
    return {contact: since[contact.email] for contact in people if contact.email in since}


def _contact(contact: Contact, zone: str) -> Invitee:
    return Invitee(Person(contact.email, contact.name), contact.timezone or zone)


def entry_of(
    session: DiscoverySession,
    *,
    stamp: datetime,
    sequence: int,
    organizer: Person | None = None,
    people: tuple[Person, ...] = (),
) -> Entry:
    """Return a session that has an hour as an entry."""
    return Entry(
        uid=uid_of("session", session.pk),
        stamp=stamp,
        sequence=sequence,
        summary=title_for_all(session),
        starts=session.starts_at,
        ends=session.ends_at,
        status=Status.CANCELLED if session.state == State.CANCELLED else Status.CONFIRMED,
        organizer=organizer,
        people=people,
        place=session.place,
        link=session.place if is_link(session.place) else "",
        description=description_of(session),
    )
