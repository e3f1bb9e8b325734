"""A drawing as SVG: within a page, or alone in a file."""

from __future__ import annotations

from django.template.loader import render_to_string
from django.utils.safestring import SafeString, mark_safe

from pipeline.results.charts.curve import Curve
from pipeline.results.charts.marks import Marks
from pipeline.typeset.text import printable

Chart = Marks | Curve


def in_page(chart: Chart) -> SafeString:
    """Return the drawing for a page, which gives it its colours and its letters."""
    return _draw(chart, "page")


def alone(chart: Chart) -> str:
    """Return the drawing as a file of its own, with its title, ink and paper."""
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + _draw(chart, "file")


def in_document(chart: Chart) -> str:
    """Return the drawing for a document that gives it a title."""
    return str(_draw(chart, "document"))


def _draw(chart: Chart, place: str) -> SafeString:
    text = render_to_string(chart.template, {"chart": chart, "place": place})
    # The template has escaped what people wrote; only what no XML may hold is dropped.
    return mark_safe(printable(text))
