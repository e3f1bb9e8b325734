"""A team's own days off, as they are typed: one span a line."""

from __future__ import annotations

import re
from datetime import date, timedelta
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from .templatetags.show import span

LINE = re.compile(r"(?P<first>\S+)(?:\s+(?:to|-|–)\s+(?P<last>\d\S*))?(?:\s+(?P<name>.*))?")
ISO = re.compile(r"\d{4}-\d{2}-\d{2}")
LONGEST_NAME = 80
# Whoever closes for longer has no working days; and a mistyped year should be seen.
LONGEST = timedelta(days=366)
MOST = 200


class DaysOffField(forms.CharField):
    """Spans of days, typed one a line: ``2026-12-24 to 2027-01-01 Winter break``."""

    widget = forms.Textarea(attrs={"rows": 5, "spellcheck": "false"})

    def prepare_value(self, value: Any) -> Any:
        return written(value) if isinstance(value, list) else value

    def to_python(self, value: Any) -> Any:
        return value if isinstance(value, list) else read(super().to_python(value) or "")

    def has_changed(self, initial: Any, data: Any) -> bool:
        try:
            return bool(self.to_python(initial) != self.to_python(data))
        except ValidationError:
            return True


def written(spans: list[list[str]]) -> str:
    """Return spans as they are typed."""
    return "\n".join(
        " ".join(part for part in (first if first == last else f"{first} to {last}", name) if part)
        for first, last, name in spans
    )


def read(text: str) -> list[list[str]]:
    """Return the spans that ``text`` names, in order of their days.

    Raises ``ValidationError`` with what is wrong in each line, by its number.
    """
    spans, wrong = [], []
    for number, line in enumerate(text.splitlines(), start=1):
        if line.strip():
            try:
                spans.append(_span(line.strip()))
            except ValueError as error:
                wrong.append(f"Line {number}: {error}")
    if len(spans) > MOST:
        wrong.append(f"Name {MOST} spans of days at most; these are {len(spans)}.")
    if wrong:
        raise ValidationError(wrong)
    return sorted(spans)


def in_words(spans: list[list[str]], today: date) -> list[str]:
    """Return the spans that are not over on ``today`` as sentences hold them."""
    return [
        span(date.fromisoformat(first), date.fromisoformat(last)) + (f", {name}" if name else "")
        for first, last, name in spans
        if last >= today.isoformat()
    ]


def _span(line: str) -> list[str]:
    match = LINE.fullmatch(line)
    # Of the stripped line the first word always is there.
    assert match is not None
    first = _day(match["first"])
    last = _day(match["last"]) if match["last"] else first
    name = " ".join((match["name"] or "").split())
    if last < first:
        raise ValueError(f"{last} lies before {first}. Write the earlier day first.")
    if last - first > LONGEST:
        raise ValueError(f"{first} to {last} is more than a year. Is the year right?")
    if len(name) > LONGEST_NAME:
        raise ValueError(f"shorten the name to {LONGEST_NAME} letters.")
    return [first.isoformat(), last.isoformat(), name]


def _day(word: str) -> date:
    try:
        if ISO.fullmatch(word):
            return date.fromisoformat(word)
    except ValueError:
        pass
    shown = word if len(word) <= LONGEST_NAME else f"{word[:LONGEST_NAME]}…"
    raise ValueError(f"“{shown}” is no day. Write days such as 2026-12-24.")
