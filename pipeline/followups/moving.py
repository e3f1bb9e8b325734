"""Let a changed plan hold for what is open already: first shown, then done by the same code."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import date, datetime

from django.db import transaction

from pipeline.leads.models import Lead
from pipeline.leads.settle import BATCH
from pipeline.teams.models import Team
from pipeline.teams.refused import Refused

from .models import FollowUp, FollowUpState, PlanEdition
from .plans import in_force
from .settling import Settled, compare, write


@dataclass(frozen=True)
class Change:
    """What becomes of one follow-up; without ``was`` it is new, without ``becomes`` it ends."""

    row: FollowUp
    was: date | None
    becomes: date | None


@dataclass
class Changes:
    """Which open follow-ups move, come and go, each in order of days."""

    moved: list[Change] = field(default_factory=list)
    added: list[Change] = field(default_factory=list)
    ended: list[Change] = field(default_factory=list)

    def __bool__(self) -> bool:
        return bool(self.moved or self.added or self.ended)

    def take(self, changes: Iterable[Change]) -> None:
        """Add ``changes``, each to its kind."""
        for change in changes:
            if change.was is None:
                self.added.append(change)
            elif change.becomes is None:
                self.ended.append(change)
            else:
                self.moved.append(change)

    def arrange(self) -> Changes:
        """Put each kind in order of the days on which it was due, or will be."""
        for kind in (self.moved, self.added, self.ended):
            kind.sort(key=lambda c: (c.was or c.becomes or date.max, c.row.lead_id, c.row.key))
        return self


def would_change(team: Team, now: datetime) -> Changes:
    """Return what ``move`` would do now; nothing is written."""
    editions = in_force(team)
    if editions and editions[0].everywhere_from is None:
        editions[0] = replace(editions[0], everywhere_from=team.today(now))
    found = Changes()
    for ids in _leads(team):
        found.take(_changes(compare(team, ids, now, editions=editions)))
    return found.arrange()


@transaction.atomic
def move(*, team: Team, number: int, now: datetime) -> Changes:
    """Let edition ``number``, the newest, hold for every fact, and settle all leads by it.

    Told twice, the second time changes nothing.
    """
    Team.objects.select_for_update(no_key=True).get(pk=team.pk)
    newest = PlanEdition.objects.newest(team)
    if newest is None or newest.number != number:
        raise Refused("Somebody changed the plan meanwhile. Look at what would move now.")
    found = Changes()
    if newest.everywhere_at or newest.made_at is None:
        return found
    newest.everywhere_at = now
    newest.save(update_fields=["everywhere_at"])
    for ids in _leads(team):
        compared = compare(team, ids, now, lock=True)
        write(compared)
        found.take(_changes(compared))
    return found.arrange()


def _leads(team: Team) -> Iterator[list[int]]:
    ids = list(Lead.objects.for_team(team).present().order_by("pk").values_list("pk", flat=True))
    for start in range(0, len(ids), BATCH):
        yield ids[start : start + BATCH]


def _changes(compared: Iterable[Settled]) -> Iterator[Change]:
    for lead in compared:
        for row in lead.made:
            yield Change(row, None, row.due_on)
        for row in lead.changed:
            state, day = lead.before[row.pk]
            was = day if state == FollowUpState.OPEN else None
            becomes = row.due_on if row.state == FollowUpState.OPEN else None
            if was != becomes:
                yield Change(row, was, becomes)
