"""How many of those with a session engaged, so far and within so many days of it.

Within so many days is the Aalen-Johansen incidence, a close competing; its interval is Wilson's
at the effective size. It can't be told where nobody is still open and followed for so many days,
and hardly where the interval is wider than 50 points. "So far" is engaged ÷ leads, a floor.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import chain

from pipeline.results.cohort import Cause, Cohort, Grouping
from pipeline.results.figures.readings import LEVEL, IncidenceAt, Rate, rate, read_effective
from pipeline.results.questions.conversion import HORIZONS, Day, conversion_by_day
from pipeline.stats.incidence import Incidence, from_counts


@dataclass(frozen=True)
class Followed:
    """Leads whose session was held at least so many days ago, and who engaged within them."""

    days: int
    leads: int
    engaged: int


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
    # "At least, so far."
    conversion: Rate
    # By HORIZONS.
    within: tuple[IncidenceAt, ...]
    followed: tuple[Followed, ...]
    # Causes: Cause.ENGAGED and Cause.CLOSED.
    curve: Incidence = field(repr=False, compare=False)
    days: Sequence[Day] = field(repr=False, compare=False)

    def at(self, horizon: int) -> IncidenceAt:
        """What had engaged within one of HORIZONS."""
        return self.within[HORIZONS.index(horizon)]

    def engaged_within(self, days: int) -> int:
        """How many were seen to engage within so many days."""
        return sum(row.engaged for row in self.days if row.day <= days)


@dataclass(frozen=True)
class Conversion:
    """Groups in order of name, those without leads not among them, and all of them together."""

    grouping: Grouping
    groups: tuple[Group, ...]
    overall: Group
    # Had decided before their session: in no group.
    left_out: int


def conversion(cohort: Cohort, grouping: Grouping) -> Conversion:
    """Compute the figure for each group, by one query."""
    by_name = conversion_by_day(cohort, grouping)
    everybody = list(chain.from_iterable(by_name.values()))
    groups = (group(name, by_name[name]) for name in sorted(by_name, key=grouping.place))
    return Conversion(
        grouping=grouping,
        groups=tuple(one for one in groups if one.leads_with_session),
        overall=group(None, everybody),
        left_out=sum(row.left_out for row in everybody),
    )


def group(name: str | None, days: Sequence[Day]) -> Group:
    """Compute one group from its days."""
    leads, engaged, closed = (
        sum(getattr(row, what) for row in days) for what in ("exits", "engaged", "closed")
    )
    curve = from_counts(
        [row.day for row in days],
        [row.exits for row in days],
        [[row.engaged for row in days], [row.closed for row in days]],
        level=LEVEL,
    )
    return Group(
        name=name,
        leads_with_session=leads,
        engaged=engaged,
        open=leads - engaged - closed,
        closed=closed,
        reopened=sum(row.reopened for row in days),
        conversion=rate(engaged, leads),
        within=tuple(read_effective(curve, at, Cause.ENGAGED) for at in HORIZONS),
        followed=tuple(_followed(days)),
        curve=curve,
        days=days,
    )


def _followed(days: Sequence[Day]) -> Iterable[Followed]:
    for place, horizon in enumerate(HORIZONS):
        yield Followed(
            days=horizon,
            leads=sum(row.followed[place] for row in days),
            engaged=sum(row.followed_engaged[place] for row in days),
        )
