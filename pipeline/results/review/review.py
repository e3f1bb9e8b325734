"""A review: five questions, each answered in a few sentences that carry their counts."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True)
class Line:
    """One sentence; `page` is the address's name of where its figure stands, `lead` whom it is
    about."""

    text: str
    page: str = ""
    lead: int | None = None


@dataclass(frozen=True)
class Part:
    """One of the five questions and what is said to it."""

    name: str
    title: str
    lines: tuple[Line, ...]


@dataclass(frozen=True)
class Review:
    """The three months from `first` to `last`, and what all facts up to `last` tell."""

    first: date
    last: date
    lede: str
    parts: tuple[Part, ...]
