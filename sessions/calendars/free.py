"""Times at which everybody could meet: inside all hours of work, outside all that is taken.

Pure: what is taken and the present moment are handed in.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from pipeline.clock.workdays import ONE_DAY, WorkCalendar
from pipeline.clock.zones import at_local, local_day

# Sessions are offered at these minutes of an hour of the first clock; common practice, no source.
GRID = 30


@dataclass(frozen=True)
class Span:
    """A stretch of time, its end not included."""

    starts: datetime
    ends: datetime

    def overlaps(self, other: Span) -> bool:
        """Tell whether both share a moment; the end of one may be the start of the other."""
        return self.starts < other.ends and other.starts < self.ends

    def holds(self, other: Span) -> bool:
        """Tell whether ``other`` lies wholly inside."""
        return self.starts <= other.starts and other.ends <= self.ends


@dataclass(frozen=True)
class Hours:
    """When somebody works: days and hours on the clock of a zone."""

    zone: str
    starts: time
    ends: time
    calendar: WorkCalendar

    def on(self, day: date) -> Span | None:
        """Return the working hours of a local day; ``None`` where there are none."""
        if not self.calendar.is_working(day):
            return None
        return Span(at_local(day, self.starts, self.zone), at_local(day, self.ends, self.zone))

    def hold(self, span: Span) -> bool:
        """Tell whether a span lies inside the working hours of one local day."""
        hours = self.on(local_day(span.starts, self.zone))
        return hours is not None and hours.holds(span)


def free_times(
    *,
    hours: Sequence[Hours],
    taken: Iterable[Span],
    first: date,
    last: date,
    minutes: int,
    now: datetime,
) -> list[datetime]:
    """Return the starts from ``first`` to ``last`` at which ``minutes`` fit for everybody.

    The days are those of the first zone, and starts stand on the half hours of its clock. What
    has begun at ``now`` is not offered.
    """
    if not hours:
        raise ValueError("at least one zone's hours must be given")
    own, others = hours[0], hours[1:]
    busy = sorted(taken, key=lambda span: span.starts)
    found = []
    day = first
    while day <= last:
        working = own.on(day)
        if working is not None:
            for start in _on_the_grid(day, own):
                span = Span(start, start + timedelta(minutes=minutes))
                if (
                    start > now
                    and working.holds(span)
                    and all(other.hold(span) for other in others)
                    and not any(span.overlaps(other) for other in busy)
                ):
                    found.append(start)
        day += ONE_DAY
    return found


def _on_the_grid(day: date, hours: Hours) -> list[datetime]:
    """Return the half hours of a day in order, each moment once.

    An hour that the clock skips that day gives the same moments as the one after it.
    """
    walls = (time(*divmod(minute, 60)) for minute in range(0, 24 * 60, GRID))
    moments = {at_local(day, wall, hours.zone) for wall in walls if wall >= hours.starts}
    return sorted(moments)
