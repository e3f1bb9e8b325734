"""Between UTC and a zone's local days and hours."""

from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from zoneinfo import ZoneInfo, available_timezones


@cache
def zone_names() -> tuple[str, ...]:
    """Return the names of all IANA zones, sorted."""
    return tuple(sorted(available_timezones()))


def local_day(moment: datetime, zone: str) -> date:
    """Return the day that people in ``zone`` have at ``moment``.

    At the very ends of the calendar it is the calendar's first or last day.
    """
    try:
        return moment.astimezone(ZoneInfo(zone)).date()
    except OverflowError:
        return moment.date()


def at_local(day: date, hour: time, zone: str) -> datetime:
    """Return the moment in UTC at which a clock in ``zone`` shows ``hour`` on ``day``.

    An hour that the zone skips that day is moved on by the length of the gap; of an hour that
    comes twice the first is meant (PEP 495, fold 0). What would lie outside the calendar's years
    is clipped to its first or last hour.
    """
    wall = datetime.combine(day, hour, ZoneInfo(zone))
    try:
        return wall.astimezone(UTC)
    except OverflowError:
        return wall.replace(tzinfo=UTC)


def week_of(day: date) -> tuple[date, date]:
    """Return Monday and Sunday of the ISO week that holds ``day``."""
    monday = day - timedelta(days=day.weekday())
    # The calendar ends on a Friday.
    return monday, min(monday, date.max - timedelta(days=6)) + timedelta(days=6)
