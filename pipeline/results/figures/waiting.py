"""Whom to write to now, and from which waiting time on writing stops paying.

The chance is that of the curve of return, given how long a lead has waited. It can't be told
where the curve does not reach 90 days further, or before five leads had returned.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from math import isnan

from pipeline.results.cohort import Cause, Cohort
from pipeline.results.figures.readings import LEVEL
from pipeline.results.questions.waiting import (
    Alike,
    Order,
    WaitingLead,
    waiting_leads,
    waits_alike,
)
from pipeline.stats.incidence import Incidence, from_counts
from pipeline.stats.stopping import stops, upper_chance
from pipeline.teams.models import Member
from pipeline.teams.money import PLACES

HORIZON = 90
# Below so many returns on record nothing is said about who will return, or how many. In a
# simulation the interval of the forecast held in 98 of 100 records with five or six returns, and
# in 88 with one or two.
LEAST_RETURNS = 5
# Leads on one page of the list.
PAGE = 50

RULES = (
    "The chance is that of returning within the next 90 days for a lead that has waited as long "
    "as this one, from the same Aalen–Johansen curve as delayed return: it knows how long a lead "
    "has waited and nothing else about it. Its interval is the log-log interval at 95%; where "
    "nobody returned in such days, the upper limit is Wilson's at the effective size.",
    "It can't be told yet before five leads had returned, and for a lead that has waited so long "
    "that no other was followed 90 days further.",
    "Worth is chance × the lead's expected fee, in that lead's currency; worths are put in order "
    "only within one currency, the team's own first. Where no fee is noted it is not known.",
)
STOPPING = (
    "Writing stops paying at the first waiting time after which the chance to return within 90 "
    "days is surely under the team's threshold: its upper limit at 95% is below it. Chances are "
    "read day by day as far as the curve reaches. With few leads the upper limit stays high, and "
    "the answer is “can't tell yet”, not “never”.",
)


@dataclass(frozen=True)
class Chance:
    """The chance to return within the next 90 days; `None` where it can't be told."""

    estimate: float | None
    low: float | None
    high: float | None
    level: float = LEVEL


@dataclass(frozen=True)
class Listed:
    """A waiting lead with its chance, and what that makes of its expected fee."""

    lead: WaitingLead
    # None: nobody.
    owner: str | None
    chance: Chance
    worth: Decimal | None


@dataclass(frozen=True)
class Stopping:
    """When writing stops paying, by the team's threshold in percent.

    `day` None: it can't be told yet; up to `told_until` days of waiting (None: nowhere) a chance
    above the threshold fits what was seen. `again`: a later waiting time at which it may be above
    the threshold again.
    """

    threshold: int
    told: bool
    day: int | None
    again: int | None
    told_until: int | None
    # Waiting leads that have waited so long or longer; None without a day.
    past: int | None


@dataclass(frozen=True)
class Waiting:
    """Those who wait: how many, a page of them, and when writing stops paying."""

    waiting: int
    returned: int
    # Whether enough returned for any chance to be told.
    told: bool
    order: Order
    offset: int
    leads: tuple[Listed, ...]
    stopping: Stopping
    # Causes: Cause.ENGAGED (returned) and Cause.CLOSED.
    curve: Incidence = field(repr=False, compare=False)


def waiting(
    cohort: Cohort, order: Order = Order.WORTH, *, offset: int = 0, limit: int = PAGE
) -> Waiting:
    """Compute the figure, in three queries."""
    alike = waits_alike(cohort)
    curve = curve_of(alike)
    chances = _chances(alike, curve)
    told = {age: one.estimate for age, one in chances.items() if one.estimate is not None}
    leads = waiting_leads(cohort, told, order, limit=limit, offset=offset)
    owners = _owners(cohort, leads)
    return Waiting(
        waiting=sum(row.leads for row in alike if row.cause == Cause.OPEN),
        returned=returned(alike),
        told=enough(alike),
        order=order,
        offset=offset,
        leads=tuple(
            Listed(
                lead=lead,
                owner=owners.get(lead.owner) if lead.owner else None,
                chance=chances[lead.waited],
                worth=_worth(chances[lead.waited], lead.fee),
            )
            for lead in leads
        ),
        stopping=stopping(alike, curve, cohort.team.least_chance),
        curve=curve,
    )


def curve_of(alike: Sequence[Alike]) -> Incidence:
    """The curve of return, a close competing, of those who were ever at risk."""
    seen = [row for row in alike if row.on_curve]
    nobody = [0] * len(seen)
    leads = [row.leads for row in seen]
    # Each row leaves on one day and enters on another.
    return from_counts(
        [*(row.waited for row in seen), *(row.entry for row in seen)],
        [*leads, *nobody],
        [
            [*(row.leads if row.cause == cause else 0 for row in seen), *nobody]
            for cause in (Cause.ENGAGED, Cause.CLOSED)
        ],
        [*nobody, *leads],
        level=LEVEL,
    )


def returned(alike: Sequence[Alike]) -> int:
    """How many returned while the team followed them."""
    return sum(row.leads for row in alike if row.on_curve and row.cause == Cause.ENGAGED)


def enough(alike: Sequence[Alike]) -> bool:
    """Whether so many returned that anything is said about who will."""
    return returned(alike) >= LEAST_RETURNS


def stopping(alike: Sequence[Alike], curve: Incidence, threshold: int) -> Stopping:
    """Find the waiting time from which on writing stops paying; `threshold` in percent."""
    found = stops(curve, Cause.ENGAGED, HORIZON, threshold / 100)
    past = None
    if found.day is not None:
        past = sum(
            row.leads for row in alike if row.cause == Cause.OPEN and row.waited >= found.day
        )
    return Stopping(
        threshold, found.day is not None, found.day, found.again, found.told_until, past
    )


def chance(curve: Incidence, age: int) -> Chance:
    """The chance to return within the next 90 days after waiting `age` days."""
    estimate, _, low, _ = curve.conditional(Cause.ENGAGED, age, HORIZON)
    if isnan(estimate):
        return Chance(None, None, None)
    high = upper_chance(curve, Cause.ENGAGED, age, HORIZON)
    # At none the lower limit is none; at all it can't be told from here.
    lowest = 0.0 if estimate == 0 else None
    return Chance(estimate, lowest if isnan(low) else low, high)


def _chances(alike: Sequence[Alike], curve: Incidence) -> dict[int, Chance]:
    ages = {row.waited for row in alike if row.cause == Cause.OPEN}
    told = enough(alike)
    return {age: chance(curve, age) if told else Chance(None, None, None) for age in ages}


def _worth(found: Chance, fee: Decimal | None) -> Decimal | None:
    if found.estimate is None or fee is None:
        return None
    return (Decimal(found.estimate) * fee).quantize(Decimal(1).scaleb(-PLACES))


def _owners(cohort: Cohort, leads: Sequence[WaitingLead]) -> dict[int, str]:
    keys = {lead.owner for lead in leads if lead.owner is not None}
    members = Member.objects.for_team(cohort.team).with_user().filter(pk__in=keys)
    return {member.pk: str(member) for member in members}
