"""Take in what a browser sends from the desk: each entry once, whatever is sent again."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from pipeline.teams.models import Member, Submission
from pipeline.teams.refused import Refused
from sessions.models import Desk, DiscoverySession

from . import catching, running
from .entries import Entry
from .hand import Hand

WORK: dict[str, Callable[[Hand, Entry], None]] = {
    "theme": catching.open_theme,
    "note": catching.catch_note,
    "statement": catching.catch_statement,
    "reword": catching.reword,
    "question": catching.ask_as_question,
    "move": catching.move,
    "merge": catching.merge,
    "votes": catching.count_votes,
    "let-go": catching.let_go,
    "take-back": catching.take_back,
    "both": catching.keep_both,
    "press": running.press,
}


@dataclass(frozen=True)
class Refusal:
    """An entry that was not taken in, and why; sent again it would be refused again."""

    key: uuid.UUID
    why: str


@transaction.atomic
def take_in(
    *,
    session: DiscoverySession,
    member: Member | None,
    now: datetime,
    entries: Iterable[Entry],
) -> list[Refusal]:
    """Do what the ``entries`` say, in their order, and return those that were refused.

    An entry that was taken in before, by its key, is passed over. All writes at one desk wait for
    each other, so that its change numbers tell the order in which they became visible.
    """
    entries = list(entries)
    hand = Hand(session, member, now, lock_desk(session))
    receipts = Submission.objects.filter(team=session.team)
    known = set(receipts.filter(key__in=[e.key for e in entries]).values_list("key", flat=True))
    new, refused = [], []
    for entry in entries:
        if entry.key in known:
            continue
        try:
            if entry.kind not in WORK:
                raise Refused("The desk does not know what to do with this.")
            WORK[entry.kind](hand, entry)
        except Refused as refusal:
            refused.append(Refusal(entry.key, str(refusal)))
            continue
        known.add(entry.key)
        new.append(Submission(team=session.team, key=entry.key, url="", received_at=now))
    Submission.objects.bulk_create(new)
    hand.desk.save(update_fields=["changed"])
    return refused


def lock_desk(session: DiscoverySession) -> Desk:
    """Return the desk of ``session``, locked until the transaction ends."""
    Desk.objects.get_or_create(team=session.team, session=session)
    desk: Desk = Desk.objects.select_for_update().get(team=session.team, session=session)
    return desk
