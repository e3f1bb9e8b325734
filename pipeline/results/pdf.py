"""The review as a PDF for a partners' meeting."""

from __future__ import annotations

from typing import Any

from django.utils.formats import date_format

from pipeline.results.charts.draw import in_document
from pipeline.results.exhibits.exhibit import Exhibit
from pipeline.results.review.review import Review
from pipeline.typeset.setting import set_document

TEMPLATE = "results/review.typ"


def review_pdf(review: Review, exhibits: list[Exhibit], *, team: str) -> bytes:
    """Return the review with its figures as a PDF; the same review gives the same bytes."""
    day = date_format(review.last, "j F Y")
    content = {
        "title": f"{team}: review of the three months to {day}",
        "team": team,
        "lede": review.lede,
        "footer": f"{team} · facts dated {day} or earlier",
        "parts": [
            {"title": part.title, "said": [line.text for line in part.lines]}
            for part in review.parts
        ],
        "exhibits": [_exhibit(exhibit) for exhibit in exhibits],
    }
    return set_document(TEMPLATE, content, day=review.last).pdf


def _exhibit(exhibit: Exhibit) -> dict[str, Any]:
    chart = exhibit.chart
    return {
        "title": exhibit.title,
        "said": exhibit.said,
        "drawing": in_document(chart) if chart else None,
        "alt": f"{chart.title}. {chart.description}" if chart else "",
        "tables": [
            {
                "caption": table.caption,
                "head": table.head,
                "rows": [row.cells for row in table.rows],
                "numbers": table.numbers,
                "empty": table.empty,
            }
            for table in exhibit.tables
        ],
        "rules": exhibit.rules,
    }
