"""What a booking should be warned of. A warning never forbids."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.utils.formats import date_format

from pipeline.clock.zones import local_day, week_of
from pipeline.leads.models import Lead
from pipeline.teams.models import Member, Team
from pipeline.teams.templatetags.show import minutes as in_words

from .models import CrewPlace, DiscoverySession, State
from .models.format import LONGEST


@dataclass(frozen=True)
class Week:
    """The free minutes of one week against the team's limit."""

    first: date
    last: date
    given: int
    limit: int

    @property
    def left(self) -> int:
        """The minutes that may still be given; 0 where the limit is reached or passed."""
        return max(self.limit - self.given, 0)

    @property
    def over(self) -> int:
        """The minutes beyond the limit."""
        return max(self.given - self.limit, 0)


def week_at(team: Team, day: date, *, leaving_out: DiscoverySession | None = None) -> Week:
    """Return the week that holds ``day``: booked and held minutes against the limit."""
    first, last = week_of(day)
    sessions = DiscoverySession.objects.for_team(team).in_days(first, last)
    if leaving_out is not None:
        sessions = sessions.exclude(pk=leaving_out.pk)
    return Week(first, last, sessions.free_minutes(), team.weekly_free_minutes)


def warnings_for_booking(
    *,
    team: Team,
    lead: Lead,
    starts_at: datetime,
    minutes: int,
    crew: Collection[Member],
    leaving_out: DiscoverySession | None = None,
) -> list[str]:
    """Return in words what speaks against these minutes at this time with this crew.

    ``leaving_out`` is the session itself when it is being moved.
    """
    warnings = []
    day = local_day(starts_at, team.timezone)
    week = week_at(team, day, leaving_out=leaving_out)
    if week.given + minutes > week.limit:
        warnings.append(
            f"With this session the week from {date_format(week.first, 'j F')} to "
            f"{date_format(week.last, 'j F')} holds {in_words(week.given + minutes)} of free "
            f"sessions; the team's limit is {in_words(week.limit)}."
        )
    zone = ZoneInfo(team.timezone)
    for place in _taken(team, starts_at, minutes, crew, leaving_out):
        other = place.session
        assert other.starts_at is not None
        assert other.ends_at is not None
        warnings.append(
            f"{place.member} is already taken: {other.lead}, "
            f"{date_format(other.starts_at.astimezone(zone), 'D j M, H:i')} to "
            f"{date_format(other.ends_at.astimezone(zone), 'H:i')}."
        )
    also = DiscoverySession.objects.for_team(team).booked().filter(lead=lead, day__gte=day)
    if leaving_out is None and (booked := also.order_by("day").first()):
        warnings.append(
            f"{lead} already has a session booked for {date_format(booked.day, 'D j M Y')}."
        )
    return warnings


def _taken(
    team: Team,
    starts_at: datetime,
    minutes: int,
    crew: Collection[Member],
    leaving_out: DiscoverySession | None,
) -> list[CrewPlace]:
    """Return the places of ``crew`` in overlapping sessions; end meeting start is no overlap."""
    ends_at = starts_at + timedelta(minutes=minutes)
    near = CrewPlace.objects.filter(
        team=team,
        member__in=list(crew),
        session__state__in=[State.BOOKED, State.HELD],
        session__starts_at__lt=ends_at,
        session__starts_at__gt=starts_at - timedelta(minutes=LONGEST),
    ).select_related("session__lead", "member__user")
    if leaving_out is not None:
        near = near.exclude(session=leaving_out.pk)
    return [
        place
        for place in near.order_by("session__starts_at", "pk")
        if place.session.ends_at is not None and place.session.ends_at > starts_at
    ]
