"""When members are taken: by sessions, and by times that are held for a lead; or away."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from pipeline.clock.workdays import ONE_DAY
from pipeline.clock.zones import at_local
from pipeline.teams.models import Absence, Member, Team
from sessions.models import CrewPlace, DiscoverySession, OfferedTime, State
from sessions.models.format import LONGEST

from .free import Span


@dataclass(frozen=True)
class Taken:
    """Something for which members are taken."""

    span: Span
    lead: str
    members: tuple[Member, ...]
    # Whether it is an alternative that nobody has taken yet.
    held: bool


def taken_in(
    *,
    team: Team,
    members: Collection[Member],
    span: Span,
    leaving_out: DiscoverySession | None = None,
) -> list[Taken]:
    """Return what some of ``members`` are taken for in ``span``, in order of time."""
    wanted = {member.pk for member in members}
    found = [*_by_sessions(team, wanted, span, leaving_out), *_by_offers(team, wanted, span)]
    return sorted(
        (taken for taken in found if taken.span.overlaps(span)),
        key=lambda taken: (taken.span.starts, taken.held),
    )


def _by_sessions(
    team: Team, wanted: set[int], span: Span, leaving_out: DiscoverySession | None
) -> Iterator[Taken]:
    places = CrewPlace.objects.filter(
        team=team,
        member__in=wanted,
        session__state__in=[State.BOOKED, State.HELD],
        session__starts_at__lt=span.ends,
        session__starts_at__gt=span.starts - timedelta(minutes=LONGEST),
    ).select_related("session__lead", "member__user")
    if leaving_out is not None:
        places = places.exclude(session=leaving_out.pk)
    for place in places.order_by("session__starts_at", "pk"):
        session = place.session
        if session.starts_at is not None and session.ends_at is not None:
            own = Span(session.starts_at, session.ends_at)
            yield Taken(own, str(session.lead), (place.member,), held=False)


def _by_offers(team: Team, wanted: set[int], span: Span) -> Iterator[Taken]:
    times = (
        OfferedTime.objects.for_team(team)
        .filter(
            offer__closed_at=None,
            offer__crew__member__in=wanted,
            starts_at__lt=span.ends,
            starts_at__gt=span.starts - timedelta(minutes=LONGEST),
        )
        .select_related("offer__lead")
        .prefetch_related("offer__crew__member__user")
        .distinct()
    )
    for held in times:
        places = held.offer.crew.all()
        members = tuple(place.member for place in places if place.member_id in wanted)
        yield Taken(Span(held.starts_at, held.ends_at), str(held.offer.lead), members, held=True)


def away_in(
    *, team: Team, members: Collection[Member], first: date, last: date
) -> list[tuple[Absence, Span]]:
    """Return when some of ``members`` are away from ``first`` to ``last``: whole days here."""
    rows = Absence.objects.for_team(team).within(first, last).filter(member__in=members)
    return [
        (
            absence,
            Span(
                at_local(max(absence.first_day, first), time.min, team.timezone),
                at_local(min(absence.last_day, last) + ONE_DAY, time.min, team.timezone),
            ),
        )
        for absence in rows.with_names()
    ]


def free_of(taken: Collection[Taken], start: datetime, minutes: int) -> list[Taken]:
    """Return what stands against ``minutes`` from ``start`` on; nothing where they are free."""
    wanted = Span(start, start + timedelta(minutes=minutes))
    return [one for one in taken if one.span.overlaps(wanted)]
