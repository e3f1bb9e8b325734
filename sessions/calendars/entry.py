"""Calendar files (RFC 5545) with what scheduling asks of them (RFC 5546)."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum

from icalendar import Calendar, Event, vCalAddress, vDuration, vText, vUri

PRODUCT = "-//pipeline//sessions//EN"

# What RFC 5545 keeps out of text, but for line break and tab.
CONTROLS = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]")


class Method(StrEnum):
    """What the receiver of a file is to do with it (RFC 5546)."""

    PUBLISH = "PUBLISH"
    REQUEST = "REQUEST"
    CANCEL = "CANCEL"


class Status(StrEnum):
    """How sure an entry is."""

    CONFIRMED = "CONFIRMED"
    TENTATIVE = "TENTATIVE"
    CANCELLED = "CANCELLED"


@dataclass(frozen=True)
class Person:
    """Somebody with an address."""

    email: str
    name: str = ""


@dataclass(frozen=True)
class Entry:
    """One entry of a calendar: an hour, or with days in place of moments a whole day."""

    uid: str
    stamp: datetime
    summary: str = ""
    # None for both: the file cancels, and need not repeat the time.
    starts: datetime | date | None = None
    ends: datetime | date | None = None
    sequence: int = 0
    # None where somebody is only taken off an entry that goes on without them.
    status: Status | None = Status.CONFIRMED
    organizer: Person | None = None
    people: tuple[Person, ...] = ()
    place: str = ""
    link: str = ""
    description: str = ""
    # Whether the time counts as taken.
    busy: bool = True


def calendar_file(
    entries: Iterable[Entry],
    *,
    method: Method | None = None,
    name: str = "",
    refresh: timedelta | None = None,
) -> str:
    """Return a calendar file; ``name`` and ``refresh`` are for those who subscribe to it."""
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    if method is not None:
        calendar.add("method", method.value)
    if name:
        calendar.add("name", vText(_text(name)))
        # understood by programs older than RFC 7986
        calendar.add("x-wr-calname", vText(_text(name)))
    if refresh is not None:
        calendar.add("refresh-interval", vDuration(refresh), {"VALUE": "DURATION"})
    for entry in entries:
        calendar.add_component(_event(entry))
    content: bytes = calendar.to_ical()
    return content.decode()


def _event(entry: Entry) -> Event:
    event = Event()
    event.add("uid", entry.uid)
    event.add("dtstamp", entry.stamp)
    if entry.starts is not None:
        event.add("dtstart", entry.starts)
    if entry.ends is not None:
        event.add("dtend", entry.ends)
    event.add("sequence", entry.sequence)
    for key, value in (
        ("summary", entry.summary),
        ("location", entry.place),
        ("description", entry.description),
    ):
        if value:
            event.add(key, _text(value))
    if entry.link:
        event.add("url", vUri(_text(entry.link)))
    if entry.status is not None:
        event.add("status", entry.status.value)
    if not entry.busy:
        event.add("transp", "TRANSPARENT")
    if entry.organizer is not None:
        event.add("organizer", _address(entry.organizer))
    for person in entry.people:
        event.add("attendee", _attendee(person, chairs=person == entry.organizer))
    return event


def _address(person: Person) -> vCalAddress:
    address = vCalAddress(f"mailto:{person.email}")
    # a double quote can't stand in a parameter
    if name := " ".join(_text(person.name).replace('"', "'").split()):
        address.params["CN"] = vText(name)
    return address


def _attendee(person: Person, *, chairs: bool) -> vCalAddress:
    address = _address(person)
    if chairs:
        address.params |= {"ROLE": "CHAIR", "PARTSTAT": "ACCEPTED"}
    else:
        address.params |= {"CUTYPE": "INDIVIDUAL", "PARTSTAT": "NEEDS-ACTION", "RSVP": "TRUE"}
    return address


def _text(value: str) -> str:
    return CONTROLS.sub("", value.replace("\r\n", "\n").replace("\r", "\n"))
