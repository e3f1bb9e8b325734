"""Hold times for a lead, send them, book the one that is taken, free the rest."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime, timedelta

from django.db import transaction
from django.template.loader import render_to_string
from django.utils.formats import date_format
from django.utils.timezone import localtime

from pipeline.leads.models import Contact, Lead
from pipeline.mail.models import StoppedAddress, Stops
from pipeline.mail.outbox import close_up, write
from pipeline.mail.stopped import refuse_stopped, with_way_out
from pipeline.teams.models import Member, Team
from pipeline.teams.refused import Refused
from sessions.booking import book, check_crew
from sessions.locking import lock_lead
from sessions.models import DiscoverySession, Format, Offer, OfferedTime, OfferPlace, Part

from .entry import Entry, Method, Person, Status, calendar_file
from .free import Span
from .inviting import hour_in, in_both_zones, invite, zone_of
from .of_session import is_link, of_member, uid_of
from .taken import free_of, taken_in

MOST = 5


@transaction.atomic
def hold_times(
    *,
    lead: Lead,
    member: Member,
    now: datetime,
    format: Format,
    minutes: int,
    starts: Collection[datetime],
    crew: Mapping[str, Sequence[Member]],
    contact: Contact | None = None,
    place: str = "",
) -> Offer:
    """Hold up to five times for a lead; its crew counts as taken in each of them."""
    lead = lock_lead(lead.pk)
    team = lead.team
    wanted = sorted(set(starts))
    if not 1 <= len(wanted) <= MOST:
        raise Refused(f"Tick one to {MOST} times.", "starts")
    if wanted[0] <= now:
        raise Refused("One of these times has begun already; search again.", "starts")
    if Offer.objects.for_team(team).open().filter(lead=lead).exists():
        raise Refused(f"Times are held for {lead} already. Free them first.")
    if contact is not None and contact.lead_id != lead.pk:
        raise Refused("Choose one of this lead's people.", "contact")
    places = check_crew(team, crew, ())
    members = [who for who, _ in places]
    # of two who hold the same members' hours at once the second waits, and is told
    keys = sorted(who.pk for who in members)
    list(Member.objects.select_for_update(no_key=True).filter(pk__in=keys).order_by("pk"))
    span = Span(wanted[0], wanted[-1] + timedelta(minutes=minutes))
    taken = taken_in(team=team, members=members, span=span)
    for start in wanted:
        for one in free_of(taken, start, minutes):
            raise Refused(
                f"{date_format(localtime(start), 'D j M, H:i')} is not free any more: "
                f"{one.lead}, with {', '.join(map(str, one.members))}. Search again.",
                "starts",
            )
    offer: Offer = Offer.objects.create(
        team=team,
        lead=lead,
        contact=contact,
        format=format,
        minutes=minutes,
        place=place,
        made_at=now,
        made_by=member,
    )
    OfferedTime.objects.bulk_create(
        OfferedTime(team=team, offer=offer, starts_at=start) for start in wanted
    )
    OfferPlace.objects.bulk_create(
        OfferPlace(team=team, offer=offer, member=who, part=part) for who, part in places
    )
    return offer


@transaction.atomic
def send_offer(*, offer: Offer, member: Member, now: datetime) -> bool:
    """Write a letter with the times to the contact; returns whether this call wrote it."""
    row = _lock(offer)
    if row.closed_at is not None:
        raise Refused("These times are not held any more.")
    if row.contact is None or not row.contact.email:
        raise Refused("Nobody with an e-mail address was chosen; copy the text instead.")
    if row.sent_to:
        return False
    refuse_stopped(row.team, [row.contact.email])
    row.sent_to = row.contact.email
    row.save(update_fields=["sent_to"])
    _letter(row, member, now, subject=f"Times for {row.format.name}", sequence=0)
    return True


@transaction.atomic
def take(*, time: OfferedTime, member: Member, now: datetime) -> tuple[DiscoverySession, bool]:
    """Book the time that a lead took and free the others.

    Returns the session, and whether this call booked it. People are invited by letter where the
    contact has an address.
    """
    row = _lock(time.offer)
    if row.closed_at is not None:
        if row.session is not None and row.session.starts_at == time.starts_at:
            return row.session, False
        raise Refused("These times are not held any more.")
    if time.starts_at <= now:
        raise Refused("This time is over. Take another, or book the session with its own hour.")
    crew: dict[str, list[Member]] = {part: [] for part in Part}
    for place in row.crew.all():
        crew[place.part].append(place.member)
    session = book(
        lead=row.lead,
        member=member,
        now=now,
        format=row.format,
        starts_at=time.starts_at,
        minutes=row.minutes,
        crew=crew,
        place=row.place,
        attendees=[row.contact] if row.contact else [],
    )
    row.session = session
    _close(row, member, now)
    if row.contact and row.contact.email:
        invite(session=session, member=member, now=now)
    return session, True


@transaction.atomic
def free(*, offer: Offer, member: Member, now: datetime) -> bool:
    """Free all times; returns whether they were held until this call."""
    row = _lock(offer)
    if row.closed_at is not None:
        return False
    _close(row, member, now)
    return True


def _lock(offer: Offer) -> Offer:
    lock_lead(offer.lead_id)
    row: Offer = Offer.objects.with_names().select_related("session").get(pk=offer.pk)
    return row


def _close(row: Offer, member: Member, now: datetime) -> None:
    row.closed_at, row.closed_by = now, member
    row.save(update_fields=["closed_at", "closed_by", "session"])
    if row.sent_to and not StoppedAddress.objects.has(row.team, row.sent_to):
        _letter(row, member, now, subject=f"No longer held: {row.format.name}", sequence=1)


def _letter(row: Offer, member: Member, now: datetime, *, subject: str, sequence: int) -> None:
    write(
        team=row.team,
        key=f"offer|{row.pk}|{sequence}",
        to=row.sent_to,
        subject=subject,
        text=with_way_out(text_of(row, member), row.team, row.sent_to),
        calendar=calendar_file(entries_of(row, stamp=now), method=Method.PUBLISH),
        due_at=now,
        by=member,
        stops=Stops.LETTERS,
    )


def entries_of(row: Offer, *, stamp: datetime) -> list[Entry]:
    """Return each time as an entry of its own: tentative while it is held, cancelled after."""
    is_open = row.closed_at is None
    facilitators = [p.member for p in row.crew.all() if p.part == Part.FACILITATOR]
    organizer = of_member(facilitators[0]) if facilitators else Person("", "")
    return [
        Entry(
            uid=uid_of("offered-time", time.pk),
            stamp=stamp,
            sequence=0 if is_open else 1,
            summary=f"Perhaps: {row.format.name}, {row.lead} and {row.team}",
            starts=time.starts_at,
            ends=time.starts_at + timedelta(minutes=row.minutes),
            status=Status.TENTATIVE if is_open else Status.CANCELLED,
            organizer=organizer,
            place=row.place,
            link=row.place if is_link(row.place) else "",
            description="One of several times. It is held until you choose.",
        )
        for time in row.times.all()
    ]


def text_of(row: Offer, by: Member) -> str:
    """Return the times in words, on the contact's clock and on the team's: letter and copy."""
    zone = zone_of(row.contact, row.team)
    taken = row.session
    return close_up(
        render_to_string(
            "mail/offer.txt",
            {
                "offer": row,
                "by": by,
                "hours": hours_of(row, zone),
                "taken": hour_in(taken.starts_at, taken.minutes, zone)
                if taken and taken.starts_at
                else "",
            },
        )
    )


def hours_of(row: Offer, zone: str) -> list[list[str]]:
    """Return each time in words on both clocks."""
    team: Team = row.team
    return [in_both_zones(time.starts_at, row.minutes, zone, team) for time in row.times.all()]
