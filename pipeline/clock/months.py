"""Month arithmetic on days."""

import calendar
from datetime import date


def month_end(day: date) -> date:
    """Return the last day of the month that holds ``day``."""
    return day.replace(day=calendar.monthrange(day.year, day.month)[1])


def add_months(day: date, count: int) -> date:
    """Return the same day ``count`` months on, clipped to the month's end.

    What would lie outside the calendar's years is clipped to its first or last day.
    """
    index = day.year * 12 + day.month - 1 + count
    year, month = divmod(index, 12)
    if year > date.max.year:
        return date.max
    if year < date.min.year:
        return date.min
    month += 1
    return date(year, month, min(day.day, calendar.monthrange(year, month)[1]))
