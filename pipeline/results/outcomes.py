"""What came of one lead: pure functions of the few days that decide it.

The rule is fixed beforehand. A lead enters on the day of its first held session. It is left out
where it engaged, declined or was turned away on an earlier day. From then on the first of an
engagement and a close decides; on the same day the engagement does.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import Enum, IntEnum


@dataclass(frozen=True, slots=True)
class Facts:
    """One lead with a held session, as of a day: every day below is on or before that day.

    Only `followed_since` may lie after it: it is no fact of the lead, but says from when the
    team knew what became of it.
    """

    index_day: date
    # None: not known.
    format: str | None = None
    source: str | None = None
    # The first ever, before the index day or after it; None: never.
    engaged_on: date | None = None
    closed_on: date | None = None
    # The first "no budget yet" on or after the index day; None: none.
    no_budget_on: date | None = None
    # None: followed all along.
    followed_since: date | None = None


class Outcome(Enum):
    """Where a lead stands in the counts."""

    EXCLUDED = "excluded"
    ENGAGED = "engaged"
    OPEN = "open"
    CLOSED = "closed"
    # A closed lead that engaged on a later day.
    REOPENED = "reopened"


def outcome(lead: Facts) -> Outcome:
    """Return what decides for the lead, by the rule at the top of this file."""
    engaged, closed = lead.engaged_on or date.max, lead.closed_on or date.max
    if min(engaged, closed) < lead.index_day:
        return Outcome.EXCLUDED
    if lead.engaged_on and engaged <= closed:
        return Outcome.ENGAGED
    if lead.closed_on:
        return Outcome.REOPENED if lead.engaged_on else Outcome.CLOSED
    return Outcome.OPEN


class Cause(IntEnum):
    """Why a lead stopped waiting, in the numbers of `pipeline.stats.incidence`."""

    WAITING = 0
    RETURNED = 1
    CLOSED = 2


@dataclass(frozen=True, slots=True)
class Wait:
    """How a lead's wait for a budget went: whole days since its "no budget yet"."""

    days: int
    cause: Cause
    # 0: followed from the start.
    entry: int = 0

    @property
    def on_curve(self) -> bool:
        """Whether the lead was ever at risk while it was followed."""
        return self.entry == 0 or self.entry < self.days


def wait(lead: Facts, as_of: date) -> Wait | None:
    """Return the lead's wait up to `as_of`; `None` where it never began.

    It begins with the first "no budget yet" on or after the index day, unless the lead engaged
    or closed on an earlier day, and ends with the first engagement or close on or after that
    day, whichever is earlier; on the same day with the engagement.
    """
    start = lead.no_budget_on
    if start is None:
        return None
    engaged, closed = lead.engaged_on or date.max, lead.closed_on or date.max
    end, cause = min(engaged, closed), Cause.CLOSED if closed < engaged else Cause.RETURNED
    if end < start:
        return None
    if lead.engaged_on is None and lead.closed_on is None:
        end, cause = as_of, Cause.WAITING
    late = lead.followed_since is not None and lead.followed_since > start
    entry = (lead.followed_since - start).days if late and lead.followed_since else 0
    return Wait((end - start).days, cause, entry)
