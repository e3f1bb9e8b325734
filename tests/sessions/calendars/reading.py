"""Read calendar files back by vobject, which shares no code with what writes them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import vobject

ONCE = ("uid", "dtstart", "dtend", "dtstamp", "summary", "sequence", "status", "organizer")


@dataclass(frozen=True)
class Read:
    """One entry as another program understands it."""

    method: str
    uid: str
    starts: datetime | date | None
    ends: datetime | date | None
    stamp: datetime
    summary: str
    sequence: int
    status: str
    organizer: str
    people: frozenset[str]
    place: str
    description: str
    raw: Any


def read_all(text: str) -> list[Read]:
    """Return every entry of a calendar file."""
    calendar = vobject.readOne(text)
    assert calendar.version.value == "2.0"
    assert calendar.prodid.value
    method = calendar.method.value if "method" in calendar.contents else ""
    return [_read(event, method) for event in calendar.contents.get("vevent", [])]


def read(text: str) -> Read:
    """Return the one entry of a calendar file."""
    found = read_all(text)
    assert len(found) == 1
    return found[0]


def _read(event: Any, method: str) -> Read:
    contents = event.contents
    for name in ONCE:
        assert len(contents.get(name, [])) <= 1, f"{name} stands there twice"

    def value(name: str, default: Any = "") -> Any:
        return contents[name][0].value if name in contents else default

    return Read(
        method=method,
        uid=value("uid"),
        starts=value("dtstart", None),
        ends=value("dtend", None),
        stamp=value("dtstamp"),
        summary=value("summary"),
        sequence=int(value("sequence", 0)),
        status=value("status"),
        organizer=value("organizer").lower().removeprefix("mailto:"),
        people=frozenset(
            a.value.lower().removeprefix("mailto:") for a in contents.get("attendee", [])
        ),
        place=value("location"),
        description=value("description"),
        raw=event,
    )
