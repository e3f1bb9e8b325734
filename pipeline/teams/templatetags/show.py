"""How values are shown: days, moments, money, minutes. Built into every template."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from django import template
from django.utils.formats import date_format

from pipeline.teams import money as amounts

register = template.Library()


@register.filter
def day(value: date | None) -> str:
    """Show a day as ``Tue 3 Mar 2026``; a dash for none."""
    return date_format(value, "D j M Y") if value else "—"


@register.filter(name="to")
def span(first: date, last: date) -> str:
    """Show the days from one to another, as ``Tue 3 Mar 2026 to Fri 6 Mar 2026``; one alone."""
    return day(first) if first == last else f"{day(first)} to {day(last)}"


@register.filter
def month(value: date | None) -> str:
    """Show a month as ``March 2026``; a dash for none."""
    return date_format(value, "F Y") if value else "—"


@register.filter
def moment(value: datetime | None, zone: str) -> str:
    """Show a moment on a clock in ``zone``, as ``Tue 3 Mar 2026, 14:00``; a dash for none."""
    if value is None:
        return "—"
    return date_format(value.astimezone(ZoneInfo(zone)), "D j M Y, H:i")


@register.filter
def money(value: Decimal | None, currency: str) -> str:
    """Show an amount with its currency; a dash for none."""
    return amounts.show(value, currency) or "—"


@register.filter
def minutes(value: int | None) -> str:
    """Show minutes as ``45 min`` or ``1 h 30 min``; a dash for none."""
    if value is None:
        return "—"
    hours, rest = divmod(value, 60)
    if not hours:
        return f"{rest} min"
    return f"{hours} h {rest} min" if rest else f"{hours} h"


@register.filter
def ago(value: date | None, today: date) -> str:
    """Tell in words how far ``value`` lies from ``today``: ``in 3 days``, ``2 months ago``."""
    if value is None:
        return ""
    days = (today - value).days
    if abs(days) < 2:
        return {0: "today", 1: "yesterday", -1: "tomorrow"}[days]
    size = abs(days)
    if size < 60:
        words = f"{size} days"
    elif size < 730:
        words = f"{size // 30} months"
    else:
        words = f"{size // 365} years"
    return f"{words} ago" if days > 0 else f"in {words}"


@register.simple_tag(takes_context=True)
def query(context: dict[str, Any], **changes: Any) -> str:
    """Return this page's query string with some parameters changed, or dropped where None."""
    params = context["request"].GET.copy()
    for key, value in changes.items():
        params.pop(key, None)
        if value is not None:
            params[key] = value
    return f"?{params.urlencode()}" if params else "?"
