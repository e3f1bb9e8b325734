"""What happened to each invented lead: a list of events, drawn from a seed, nothing stored.

The chances are made up, and only plausible: most sessions are held, not quite half of the leads
have no budget yet, and some of those come back within two years.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from random import Random
from typing import Any

from pipeline.clock.workdays import WorkCalendar
from pipeline.clock.zones import at_local

from . import names


@dataclass(frozen=True)
class Event:
    """Something that was done or noted at a moment; ``what`` names it, ``about`` holds details."""

    at: datetime
    what: str
    about: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Setting:
    """What a story needs to know of the team."""

    calendar: WorkCalendar
    timezone: str
    sources: tuple[str, ...]
    formats: tuple[str, ...]


def of_lead(organisation: str, enquired_on: date, setting: Setting, random: Random) -> list[Event]:
    """Return the events of one lead from its enquiry on, in order of time.

    Events may lie in the future of whoever plays them; the player stops at its own ``now``.
    """
    return sorted(_events(organisation, enquired_on, setting, random), key=lambda e: e.at)


def _events(
    organisation: str, enquired_on: date, setting: Setting, random: Random
) -> Iterator[Event]:
    calendar = setting.calendar

    def at(day: date, hour: int | None = None) -> datetime:
        wall = time(hour or random.randrange(9, 17), random.choice([0, 15, 30, 45]))
        return at_local(calendar.on_or_after(day), wall, setting.timezone)

    def later(day: date, least: int, most: int) -> date:
        return calendar.on_or_after(day + timedelta(days=random.randint(least, most)))

    people = [names.person(organisation, random) for _ in range(random.choice([1, 1, 1, 2]))]
    source = random.choices([*setting.sources, None], k=1)[0]
    yield Event(at(enquired_on, 9), "enquiry", {"people": people, "source": source})
    day = later(enquired_on, 0, 2)
    if random.random() < 0.8:
        yield Event(at(day, 10), "talk", {"gist": random.choice(names.ASKED)})
    if random.random() > 0.93:
        return
    booked_on, day = day, later(day, 3, 19)
    for attempt in range(2):
        hour = random.choice([10, 11, 13, 14, 15])
        booking: dict[str, Any] = {"starts_at": at_local(day, time(hour), setting.timezone)}
        booking["format"] = random.choices(setting.formats, weights=[6, 3, 2], k=1)[0]
        yield Event(at(booked_on, 16), "book", booking)
        fate = random.random()
        if fate < 0.07:
            yield Event(at(day, 17), "missed", {"reason": "Nobody came; no word."})
        elif fate < 0.11:
            yield Event(
                at(booked_on + timedelta(days=1)), "cancel", {"reason": "Asked to move it."}
            )
        else:
            yield Event(at(day, 17), "hold", _held(random))
            break
        if attempt or random.random() < 0.35:
            return
        booked_on, day = later(day, 1, 4), later(day, 8, 20)
    sent = later(day, 1, 6)
    if random.random() < 0.96:
        yield Event(at(sent, 12), "send", {"all": random.random() < 0.8})
    if random.random() < 0.6:
        yield Event(at(later(sent, 2, 9), 11), "talk", {"gist": random.choice(names.HEARD)})
    yield from _outcome(later(sent, 6, 40), random, at, later)


def _held(random: Random) -> dict[str, Any]:
    return {
        "attendee_count": random.choices([1, 2, 3, 4, 5, 6], weights=[3, 6, 5, 3, 2, 1])[0],
        "effort_before": random.choice([15, 20, 30, 45]),
        "effort_during": random.choice([60, 120, 120, 180]),
        "effort_after": random.choice([60, 90, 120, 150, 180, 240]),
    }


def _outcome(day: date, random: Random, at: Any, later: Any) -> Iterator[Event]:
    fee = random.randrange(40, 480) * 100
    proposal = random.random() < 0.4
    if proposal:
        yield Event(at(day, 10), "proposal", {"fee": fee})
        day = later(day, 5, 25)
    kind = random.choices(
        ["engaged", "no budget yet", "declined", "gone quiet", "turned away", None],
        weights=[16, 46, 10, 15, 4, 9],
    )[0]
    if kind == "engaged":
        yield Event(at(day, 15), "decide", {"kind": kind, "fee": fee})
    elif kind == "no budget yet":
        yield from _waiting(day, fee, random, at, later)
    elif kind is not None:
        reasons = {
            "declined": names.DECLINED,
            "gone quiet": names.QUIET,
            "turned away": names.TURNED_AWAY,
        }
        day = later(day, 60, 90) if kind == "gone quiet" else day
        yield Event(at(day, 15), "decide", {"kind": kind, "reason": random.choice(reasons[kind])})


def _waiting(day: date, fee: int, random: Random, at: Any, later: Any) -> Iterator[Event]:
    about: dict[str, Any] = {"kind": "no budget yet", "reason": random.choice(names.NO_BUDGET)}
    if random.random() < 0.65:
        about["expected_in"] = random.randint(2, 10)
        about["funding_from"] = random.choice(names.FUNDING_FROM)
    yield Event(at(day, 15), "decide", about)
    fate = random.random()
    if fate < 0.44:
        funded = later(day, 45, 480)
        if random.random() < 0.85:
            yield Event(at(funded, 10), "funding", {})
        if fate < 0.38:
            yield Event(at(later(funded, 7, 45), 15), "decide", {"kind": "engaged", "fee": fee})
    elif fate < 0.6:
        ended = later(day, 60, 400)
        about = {"kind": "declined", "reason": random.choice(names.DECLINED)}
        yield Event(at(ended, 15), "decide", about)
