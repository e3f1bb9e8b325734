"""What is due: follow-ups, owed deliverables and booked sessions, arranged by time."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Count, Q

from pipeline.leads.models import Lead
from pipeline.teams.models import Member, Team
from sessions.models import Deliverable, DiscoverySession

from .models import FollowUp
from .planning import in_words

AHEAD = timedelta(days=14)
# So many rows of each kind are shown; the oldest first, the rest is counted.
SHOWN = 200


@dataclass(frozen=True)
class Item:
    """One thing that is due on a day."""

    # Also the name of its page's address.
    kind: str
    day: date
    lead: Lead
    what: str
    why: str
    owner: str
    row: FollowUp | Deliverable | DiscoverySession
    # Of a session: its hour.
    starts_at: datetime | None = None


@dataclass
class Agenda:
    """What is late, due today, and ahead; how much lies later, and how much is not shown."""

    today: date
    late: list[Item] = field(default_factory=list)
    due: list[Item] = field(default_factory=list)
    ahead: list[Item] = field(default_factory=list)
    later: int = 0
    hidden: int = 0

    def __bool__(self) -> bool:
        return bool(self.late or self.due or self.ahead)


def arrange(items: Iterable[Item], today: date) -> Agenda:
    """Return ``items`` in order of time."""
    agenda = Agenda(today)
    for item in sorted(items, key=lambda i: (i.day, i.kind, i.row.pk)):
        if item.day < today:
            agenda.late.append(item)
        elif item.day == today:
            agenda.due.append(item)
        else:
            agenda.ahead.append(item)
    return agenda


def agenda(team: Team, today: date, member: Member | None = None) -> Agenda:
    """Return what is due for ``member`` and what nobody owns; for everybody without one.

    Seven queries, whatever there is to do: for each kind the counts and the rows, and the crew
    of the sessions. What is due after the days ahead is only counted.
    """
    last = today + AHEAD
    items: list[Item] = []
    later = hidden = 0
    for rows, day, item in (
        (follow_ups_of(team, member), "due_on", of_follow_up),
        (deliverables_of(team, member), "due_on", of_deliverable),
        (_sessions(team, member), "day", of_session),
    ):
        near = Q(**{f"{day}__lte": last})
        counts = rows.aggregate(near=Count("pk", near), later=Count("pk", ~near))
        found = [item(row) for row in rows.filter(near).with_names().order_by(day, "pk")[:SHOWN]]
        items += found
        later += counts["later"]
        hidden += counts["near"] - len(found)
    arranged = arrange(items, today)
    arranged.later, arranged.hidden = later, hidden
    return arranged


def follow_ups_of(team: Team, member: Member | None) -> Any:
    """Return the open follow-ups of a member and of nobody; everybody's without a member."""
    rows = FollowUp.objects.for_team(team).open().filter(lead__merged_into=None)
    return rows.filter(Q(owner=member) | Q(owner=None)) if member else rows


def deliverables_of(team: Team, member: Member | None) -> Any:
    """Return what a member, or nobody, owes; what anybody owes without a member."""
    rows = Deliverable.objects.for_team(team).owed().filter(lead__merged_into=None)
    return rows.filter(Q(owner=member) | Q(owner=None)) if member else rows


def _sessions(team: Team, member: Member | None) -> Any:
    rows = DiscoverySession.objects.for_team(team).booked().filter(lead__merged_into=None)
    # One row of the crew for the member at most, so the join doubles nothing.
    return rows.filter(Q(crew__member=member) | Q(crew=None)) if member else rows


def of_follow_up(row: FollowUp) -> Item:
    """Return a follow-up as something due."""
    return Item(
        "follow-up",
        row.due_on,
        row.lead,
        row.action,
        row.because,
        str(row.owner or ""),
        row,
    )


def of_deliverable(row: Deliverable) -> Item:
    """Return an owed deliverable as something due."""
    why = f"promised at the session of {in_words(row.session.day)}" if row.session else ""
    return Item(
        "deliverable",
        row.due_on,
        row.lead,
        f"Send: {row.title}",
        why,
        str(row.owner or ""),
        row,
    )


def of_session(row: DiscoverySession) -> Item:
    """Return a booked session as something due."""
    return Item(
        "session",
        row.day,
        row.lead,
        f"Session: {row.format}" if row.format else "Session",
        "",
        ", ".join(str(place.member) for place in row.crew.all()),
        row,
        row.starts_at,
    )
