"""Drawings as a filter, and links to other pages of a list."""

from __future__ import annotations

from typing import Any

from django import template

from pipeline.results.charts import draw
from pipeline.teams.templatetags.show import query

register = template.Library()

register.filter("drawn", draw.in_page)


@register.simple_tag(takes_context=True)
def turn(context: dict[str, Any], parameter: str, value: int | str) -> str:
    """Return this page's query string with a list in another order, or turned to another page."""
    changes: dict[str, Any] = {"from": None, parameter: value or None}
    return query(context, **changes)
