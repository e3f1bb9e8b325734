"""Month arithmetic on days."""

import calendar
from datetime import date


def add_months(day: date, count: int) -> date:
    """Return the same day ``count`` months on, clipped to the month's end and to year 9999."""
    index = day.year * 12 + day.month - 1 + count
    year, month = divmod(index, 12)
    if year > date.max.year:
        return date.max
    month += 1
    return date(year, month, min(day.day, calendar.monthrange(year, month)[1]))
