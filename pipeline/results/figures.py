"""The figures of a team as of a day: counts, conversion so far, and delayed return."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

LEVEL = 0.95


@dataclass(frozen=True)
class Rate:
    """A share with its interval; all `None` where there is nothing to share."""

    estimate: float | None
    low: float | None
    high: float | None
    level: float = LEVEL


@dataclass(frozen=True)
class Group:
    """The leads of one format, of one source, or of the team; `reopened` is a part of `closed`."""

    # None: the format or source is not known, or the group is the whole team.
    name: str | None
    leads_with_session: int
    engaged: int
    open: int
    closed: int
    reopened: int
    conversion: Rate


@dataclass(frozen=True)
class IncidenceAt:
    """How many had returned within so many days; `None` where it can't be told."""

    days: int
    estimate: float | None
    se: float | None
    low: float | None
    high: float | None
    at_risk: int


@dataclass(frozen=True)
class DelayedReturn:
    """Of the leads that said "no budget yet": what they did since.

    `off_curve` counts those followed only since a day on or after their last: they are in the
    counts, but were never at risk while the team looked.
    """

    started: int
    returned: int
    waiting: int
    closed: int
    off_curve: int
    incidence: tuple[IncidenceAt, ...]


@dataclass(frozen=True)
class Results:
    """All figures of a team as of a day. `excluded` leads had decided before their session."""

    as_of: date
    formats: tuple[Group, ...]
    sources: tuple[Group, ...]
    overall: Group
    excluded: int
    delayed_return: DelayedReturn
