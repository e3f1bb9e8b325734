"""The review as a PDF for a partners' meeting.

What people wrote goes to the typesetter as data and never as markup. The document is tagged to
PDF/UA-1, which refuses a letter that no font has; then it is tagged all the same, and makes no
such claim. The same review gives the same bytes.
"""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, time
from functools import lru_cache
from typing import Any

import typst
from django.conf import settings
from django.utils.formats import date_format

from pipeline.results.charts.draw import in_document
from pipeline.results.charts.text import printable
from pipeline.results.exhibits.exhibit import Exhibit
from pipeline.results.review.review import Review

TEMPLATES = settings.BASE_DIR / "templates" / "results"


def review_pdf(review: Review, exhibits: list[Exhibit], *, team: str) -> bytes:
    """Return the review with its figures as a PDF."""
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
    return _set(json.dumps(_printable(content), ensure_ascii=False), review.last)


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


def _printable(value: Any) -> Any:
    """Return the same content with every text fit for a typesetter."""
    if isinstance(value, str):
        return printable(value)
    if isinstance(value, dict):
        return {key: _printable(part) for key, part in value.items()}
    if isinstance(value, list | tuple):
        return [_printable(part) for part in value]
    return value


@lru_cache(maxsize=1)
def _fonts() -> typst.Fonts:
    """The typesetter's own fonts only: those of the machine would change the bytes."""
    return typst.Fonts(include_system_fonts=False)


def _set(content: str, day: date) -> bytes:
    compiler = typst.Compiler(
        input=TEMPLATES / "review.typ",
        root=TEMPLATES,
        font_paths=_fonts(),
        sys_inputs={"review": content},
    )
    stamp = datetime.combine(day, time(), UTC)
    try:
        done = compiler.compile(format="pdf", pdf_standards="ua-1", timestamp=stamp)
    except typst.TypstError:
        done = compiler.compile(format="pdf", timestamp=stamp)
    assert isinstance(done, bytes)
    return done
