"""Spans of time as a clock shows them."""

from __future__ import annotations

from datetime import timedelta

from django import template

register = template.Library()


@register.filter
def on_a_clock(span: timedelta) -> str:
    """Show a span as ``4:05``: minutes and full seconds, without its sign."""
    seconds = abs(span) // timedelta(seconds=1)
    return f"{seconds // 60}:{seconds % 60:02}"


@register.filter
def is_over(span: timedelta) -> bool:
    """Tell whether what is left of something is less than nothing."""
    return span < timedelta(0)
