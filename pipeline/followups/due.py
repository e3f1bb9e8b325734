"""What is due: follow-ups, owed deliverables and booked sessions, arranged by time."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Count, Exists, OuterRef, Q

from pipeline.leads.models import Lead
from pipeline.teams.cover import Cover, cover_on
from pipeline.teams.models import Member, Team
from sessions.models import CrewPlace, Deliverable, DiscoverySession

from .models import FollowUp
from .planning import in_words

AHEAD = timedelta(days=14)
# So many rows of each kind are shown; the oldest first, the rest is counted.
SHOWN = 200
NOBODY_AWAY = Cover()


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
    # Who is away today, as far as it changes what is the member's.
    told: list[str] = field(default_factory=list)

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


def agenda(
    team: Team, today: date, member: Member | None = None, *, count_later: bool = True
) -> Agenda:
    """Return what is due for ``member`` and what nobody does; for everybody without one.

    Whoever stands in for somebody today has that work too, and the work of those who are away
    with nobody in their place is nobody's.

    Eight queries, whatever there is to do: who is away, for each kind the counts and the rows,
    and the crew of the sessions. What is due after the days ahead is only counted; without
    ``count_later`` it is not read at all, so that the time grows with what is due alone.
    """
    last = today + AHEAD
    cover = cover_on(team, today)
    items: list[Item] = []
    later = hidden = 0
    for rows, day, item in (
        (follow_ups_of(team, member, cover), "due_on", of_follow_up),
        (deliverables_of(team, member, cover), "due_on", of_deliverable),
        (sessions_of(team, member, cover), "day", of_session),
    ):
        near = Q(**{f"{day}__lte": last})
        counted = rows if count_later else rows.filter(near)
        counts = counted.aggregate(near=Count("pk", near), later=Count("pk", ~near))
        shown = rows.filter(near).with_names().order_by(day, "pk")[:SHOWN]
        found = [item(row, cover) for row in shown]
        items += found
        later += counts["later"]
        hidden += counts["near"] - len(found)
    arranged = arrange(items, today)
    arranged.later, arranged.hidden = later, hidden
    arranged.told = cover.told(member) if member else []
    return arranged


def follow_ups_of(team: Team, member: Member | None, cover: Cover = NOBODY_AWAY) -> Any:
    """Return the open follow-ups of a member and of nobody; everybody's without a member."""
    rows = FollowUp.objects.for_team(team).open().filter(lead__merged_into=None)
    return rows.filter(_owned(member, cover)) if member else rows


def deliverables_of(team: Team, member: Member | None, cover: Cover = NOBODY_AWAY) -> Any:
    """Return what a member, or nobody, owes; what anybody owes without a member."""
    rows = Deliverable.objects.for_team(team).owed().filter(lead__merged_into=None)
    return rows.filter(_owned(member, cover)) if member else rows


def sessions_of(team: Team, member: Member | None, cover: Cover = NOBODY_AWAY) -> Any:
    """Return the booked sessions of a member and of nobody; everybody's without a member."""
    rows = DiscoverySession.objects.for_team(team).booked().filter(lead__merged_into=None)
    if member is None:
        return rows
    places = CrewPlace.objects.filter(session=OuterRef("pk"))
    mine = places.filter(member__in=_whose(member, cover))
    return rows.filter(Exists(mine) | ~Exists(places))


def _owned(member: Member, cover: Cover) -> Q:
    return Q(owner__in=_whose(member, cover)) | Q(owner=None)


def _whose(member: Member, cover: Cover) -> list[int]:
    return [member.pk, *cover.covered_by(member), *cover.of_nobody()]


def of_follow_up(row: FollowUp, cover: Cover = NOBODY_AWAY) -> Item:
    """Return a follow-up as something due."""
    return Item(
        "follow-up",
        row.due_on,
        row.lead,
        row.action,
        row.because,
        cover.whose(row.owner),
        row,
    )


def of_deliverable(row: Deliverable, cover: Cover = NOBODY_AWAY) -> Item:
    """Return an owed deliverable as something due."""
    why = f"promised at the session of {in_words(row.session.day)}" if row.session else ""
    return Item(
        "deliverable",
        row.due_on,
        row.lead,
        f"Send: {row.title}",
        why,
        cover.whose(row.owner),
        row,
    )


def of_session(row: DiscoverySession, cover: Cover = NOBODY_AWAY) -> Item:
    """Return a booked session as something due."""
    return Item(
        "session",
        row.day,
        row.lead,
        f"Session: {row.format}" if row.format else "Session",
        "",
        ", ".join(cover.whose(place.member) for place in row.crew.all()),
        row,
        row.starts_at,
    )
