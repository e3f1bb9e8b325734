"""What a booking should be warned of. A warning never forbids."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.utils.formats import date_format

from pipeline.clock.zones import local_day, week_of
from pipeline.leads.models import Lead
from pipeline.teams.cover import cover_on
from pipeline.teams.models import Member, Team
from pipeline.teams.templatetags.show import minutes as in_words

from .calendars.free import Span
from .calendars.taken import taken_in
from .models import DiscoverySession


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
    wanted = Span(starts_at, starts_at + timedelta(minutes=minutes))
    for taken in taken_in(team=team, members=crew, span=wanted, leaving_out=leaving_out):
        how = "held for an alternative" if taken.held else "already taken"
        warnings.extend(
            f"{who} is {how}: {taken.lead}, "
            f"{date_format(taken.span.starts.astimezone(zone), 'D j M, H:i')} to "
            f"{date_format(taken.span.ends.astimezone(zone), 'H:i')}."
            for who in taken.members
        )
    warnings.extend(_absences(team, day, crew))
    also = DiscoverySession.objects.for_team(team).booked().filter(lead=lead, day__gte=day)
    if leaving_out is None and (booked := also.order_by("day").first()):
        warnings.append(
            f"{lead} already has a session booked for {date_format(booked.day, 'D j M Y')}."
        )
    return warnings


def _absences(team: Team, day: date, crew: Collection[Member]) -> Iterator[str]:
    """Tell who of ``crew`` is away on ``day``, and who stands in."""
    if not crew:
        return
    cover = cover_on(team, day)
    for member in crew:
        if absence := cover.absences.get(member.pk):
            by = cover.stand_in(member.pk)
            who = f"{by} stands in" if by else "nobody stands in"
            last = date_format(absence.last_day, "D j M Y")
            yield f"{member} is away until {last}; {who}."
