"""Whatever happens to a session, the calendars of those invited agree with it.

A calendar here does what RFC 5546 asks of one: it keeps, of an entry, what came with the highest
SEQUENCE, and drops it on CANCEL. Letters may be read in any order.
"""

from __future__ import annotations

import random
from datetime import UTC, datetime, timedelta

import pytest

from pipeline.mail.models import Letter
from sessions.booking import amend, book, cancel, put_back
from sessions.calendars.inviting import invite
from sessions.models import DiscoverySession, Part, State
from tests.conftest import NOW
from tests.factories import ContactFactory

from .reading import Read, read

START = datetime(2026, 3, 9, 10, 0, tzinfo=UTC)


def calendar_of(address: str, dice: random.Random) -> Read | None:
    """Return the entry that somebody has after all letters, read in a random order."""
    files = [read(letter.calendar) for letter in Letter.objects.filter(to=address)]
    dice.shuffle(files)
    kept: Read | None = None
    for file in files:
        if kept is None or file.sequence > kept.sequence:
            kept = file
    return None if kept is None or kept.method == "CANCEL" else kept


@pytest.mark.parametrize("seed", range(12))
def test_every_calendar_agrees_after_a_dozen_changes(cast, lead, hour, seed):
    dice = random.Random(seed)
    people = [ContactFactory(lead=lead) for _ in range(3)]
    crews = [
        {Part.FACILITATOR: [cast.owner]},
        {Part.FACILITATOR: [cast.owner], Part.NOTE_TAKER: [cast.member]},
    ]
    session = book(
        lead=lead,
        member=cast.owner,
        now=NOW,
        format=hour,
        starts_at=START,
        minutes=60,
        crew=crews[1],
        attendees=people[:1],
    )
    invite(session=session, member=cast.owner, now=NOW)
    acts = [
        lambda s: amend(
            session=s,
            member=cast.owner,
            now=NOW,
            starts_at=START + timedelta(hours=dice.randint(0, 3)),
        ),
        lambda s: amend(
            session=s,
            member=cast.owner,
            now=NOW,
            attendees=dice.sample(people, dice.randint(0, 3)),
        ),
        lambda s: amend(session=s, member=cast.owner, now=NOW, crew=dice.choice(crews)),
        lambda s: amend(
            session=s, member=cast.owner, now=NOW, plain={"place": dice.choice(["here", "there"])}
        ),
        lambda s: (
            cancel(session=s, member=cast.owner, now=NOW)
            if s.state == State.BOOKED
            else put_back(session=s, member=cast.owner, now=NOW)
        ),
    ]
    for _ in range(12):
        dice.choice(acts)(session)
        session = DiscoverySession.objects.get(pk=session.pk)
        booked = session.state == State.BOOKED
        wanted = {p.email for p in session.attendees.all()} | {
            place.member.user.email for place in session.crew.all()
        }
        for address in {p.email for p in people} | {cast.member.user.email}:
            kept = calendar_of(address, dice)
            assert (kept is not None) == (booked and address in wanted)
            if kept is not None:
                assert (kept.starts, kept.ends) == (session.starts_at, session.ends_at)
                assert kept.place == session.place
