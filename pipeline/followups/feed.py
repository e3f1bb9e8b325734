"""A member's feed: sessions, what is to be sent, and follow-ups, for a calendar elsewhere."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from typing import Any

from django.conf import settings
from django.db.models import Q
from django.urls import reverse

from pipeline.clock.zones import at_local
from pipeline.teams.models import Member, Team
from sessions.calendars.entry import Entry, Status, calendar_file
from sessions.calendars.of_session import description_of, title_of, uid_of
from sessions.models import DiscoverySession, OfferedTime, State

from .due import deliverables_of, follow_ups_of
from .models import Feed

# What lies further back or ahead is left out, and no kind has more entries than this.
BACK, AHEAD, MOST = timedelta(days=60), timedelta(days=400), 1000
REFRESH = timedelta(hours=1)


def change_feed(*, member: Member, now: datetime) -> Feed:
    """Give a member a new address for their feed; the old one ends."""
    Feed.objects.filter(team=member.team, member=member).delete()
    feed: Feed = Feed.objects.create(team=member.team, member=member, changed_at=now)
    return feed


def end_feed(*, member: Member) -> bool:
    """End a member's feed; returns whether there was one."""
    ended, _ = Feed.objects.filter(team=member.team, member=member).delete()
    return bool(ended)


def feed_of(member: Member, now: datetime) -> str:
    """Return a member's calendar: their own, and what nobody looks after.

    The same rows on the same day give the same text, whatever the hour.
    """
    team, today = member.team, member.team.today(now)
    first, last = today - BACK, today + AHEAD
    return calendar_file(
        [
            *_sessions(team, member, first, last),
            *_held(team, member, first, last),
            *_deliverables(team, member, first, last),
            *_follow_ups(team, member, first, last),
        ],
        name=f"{team}: {member}",
        refresh=REFRESH,
    )


def _sessions(team: Team, member: Member, first: date, last: date) -> Iterator[Entry]:
    rows = (
        DiscoverySession.objects.for_team(team)
        .filter(Q(crew__member=member) | Q(crew=None))
        .filter(state__in=[State.BOOKED, State.HELD], lead__merged_into=None)
        .in_days(first, last)
        .select_related("lead", "format")
        .order_by("day", "pk")
    )
    for row in rows[:MOST]:
        page = _page(team, "session", row.pk)
        needs = description_of(row)
        yield Entry(
            uid=uid_of("session", row.pk),
            stamp=row.recorded_at,
            sequence=row.version - 1,
            summary=title_of(row),
            starts=row.starts_at or row.day,
            ends=row.ends_at or row.day + timedelta(days=1),
            place=row.place,
            link=page,
            description=f"{needs}\n{page}" if needs else page,
        )


def _held(team: Team, member: Member, first: date, last: date) -> Iterator[Entry]:
    """Yield the times that are held for a lead: nobody knows yet which it will be."""
    rows = (
        OfferedTime.objects.for_team(team)
        .filter(offer__closed_at=None, offer__crew__member=member)
        .filter(
            starts_at__gte=at_local(first, time.min, team.timezone),
            starts_at__lt=at_local(last, time.min, team.timezone),
        )
        .select_related("offer__lead", "offer__format")
    )
    for row in rows[:MOST]:
        page = _page(team, "offer", row.offer_id)
        yield Entry(
            uid=uid_of("offered-time", row.pk),
            stamp=row.offer.made_at,
            summary=f"Held: {row.offer.format.name}: {row.offer.lead}",
            starts=row.starts_at,
            ends=row.ends_at,
            status=Status.TENTATIVE,
            place=row.offer.place,
            link=page,
            description=page,
        )


def _deliverables(team: Team, member: Member, first: date, last: date) -> Iterator[Entry]:
    rows = deliverables_of(team, member).filter(due_on__range=(first, last))
    for row in rows.select_related("lead").order_by("due_on", "pk")[:MOST]:
        words = f"Send: {row.title}"
        yield _day("deliverable", row, words, row.recorded_at, team)


def _follow_ups(team: Team, member: Member, first: date, last: date) -> Iterator[Entry]:
    rows = follow_ups_of(team, member).filter(due_on__range=(first, last))
    for row in rows.select_related("lead").order_by("due_on", "pk")[:MOST]:
        yield _day("follow-up", row, row.action, row.created_at, team)


def _day(kind: str, row: Any, words: str, stamp: datetime, team: Team) -> Entry:
    page = _page(team, kind, row.pk)
    nobodys = "" if row.owner_id else " (nobody’s)"
    return Entry(
        uid=uid_of(kind, row.pk),
        # when it was last changed is not kept; the number tells a newer one
        stamp=stamp,
        sequence=row.version - 1,
        summary=f"{words}, {row.lead}{nobodys}",
        starts=row.due_on,
        ends=row.due_on + timedelta(days=1),
        link=page,
        description=page,
        busy=False,
    )


def _page(team: Team, name: str, pk: int) -> str:
    return f"{settings.BASE_URL}{reverse(name, args=[team.slug, pk])}"
