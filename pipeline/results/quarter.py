"""What a team gave, and what came of it, within three months."""

from __future__ import annotations

from calendar import monthrange
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django.db.models import Count, F, Q, Sum
from django.db.models.functions import Coalesce

from pipeline.results.cohort import Cohort
from pipeline.results.sql import as_amount, as_parameter, thousandths
from sessions.models import Deliverable, DiscoverySession, State

MONTHS = 3


@dataclass(frozen=True)
class Given:
    """Sessions and deliverables dated within the stretch."""

    held: int
    missed: int
    # Of the held sessions with minutes noted; `unnoted` have none.
    minutes: int
    unnoted: int
    sent: int
    on_time: int


@dataclass(frozen=True)
class Back:
    """Engagements by leads that count; `returns` are those that had waited for a budget."""

    engaged: int
    returns: int
    closed: int
    said_no_budget: int
    # Sums within one currency, in order of its code; of returns alone in `return_fees`.
    fees: tuple[tuple[str, Decimal], ...]
    return_fees: tuple[tuple[str, Decimal], ...]
    without_fee: int


@dataclass(frozen=True)
class Quarter:
    """Three months that end on a day."""

    first: date
    last: date
    given: Given
    back: Back


def three_months_to(last: date) -> date:
    """Return the first day of the three months that end on `last`."""
    if last == date(last.year, last.month, monthrange(last.year, last.month)[1]):
        # Whole months stay whole: the three months to 31 March begin on 1 January.
        month = last.year * 12 + last.month - MONTHS
        return date.min if month < 12 else date(month // 12, month % 12 + 1, 1)
    month = last.year * 12 + last.month - 1 - MONTHS
    if month < 12:
        return date.min
    year, month = month // 12, month % 12 + 1
    return date(year, month, min(last.day, monthrange(year, month)[1])) + timedelta(days=1)


def quarter(cohort: Cohort) -> Quarter:
    """Return the three months to the cohort's day, in three queries."""
    first, last = three_months_to(cohort.as_of), cohort.as_of
    return Quarter(first, last, _given(cohort, first), _back(cohort, first))


def _given(cohort: Cohort, first: date) -> Given:
    held = Q(state=State.HELD)
    parts = ("effort_before", "effort_during", "effort_after", "effort_unsplit")
    noted = Q()
    for part in parts:
        noted |= Q(**{f"{part}__isnull": False})
    minutes = sum((Coalesce(F(part), 0) for part in parts[1:]), Coalesce(F(parts[0]), 0))
    sessions = DiscoverySession.objects.for_team(cohort.team).in_days(first, cohort.as_of)
    ran = sessions.order_by().aggregate(
        held=Count("pk", filter=held),
        missed=Count("pk", filter=Q(state=State.MISSED)),
        minutes=Sum(minutes, filter=held),
        noted=Count("pk", filter=held & noted),
    )
    sent = Deliverable.objects.for_team(cohort.team).filter(
        sent_on__gte=first, sent_on__lte=cohort.as_of
    )
    went = sent.order_by().aggregate(
        sent=Count("pk"), on_time=Count("pk", filter=Q(sent_on__lte=F("due_on")))
    )
    return Given(
        held=ran["held"],
        missed=ran["missed"],
        minutes=ran["minutes"] or 0,
        unnoted=ran["held"] - ran["noted"],
        sent=went["sent"],
        on_time=went["on_time"],
    )


def _back(cohort: Cohort, first: date) -> Back:
    """At most one row a cause, waiting or not, and currency."""
    rows = cohort.ask(
        f"""
        SELECT cause, ended_on >= %(first)s,
            CASE WHEN no_budget_on <= ended_on THEN 1 ELSE 0 END, fee_currency,
            COUNT(*), SUM({thousandths("fee")}), COUNT(fee),
            COUNT(*) FILTER (WHERE no_budget_on <= ended_on AND no_budget_on >= %(first)s)
        FROM counted
        GROUP BY 1, 2, 3, 4
        """,
        first=as_parameter(first),
    )
    engaged = [row for row in rows if row[0] == 1 and row[1]]
    returns = [row for row in engaged if row[2]]
    return Back(
        engaged=sum(row[4] for row in engaged),
        returns=sum(row[4] for row in returns),
        closed=sum(row[4] for row in rows if row[0] == 2 and row[1]),
        said_no_budget=sum(row[7] for row in rows),
        fees=_sums(engaged),
        return_fees=_sums(returns),
        without_fee=sum(row[4] - row[6] for row in engaged),
    )


def _sums(rows: list[tuple[Any, ...]]) -> tuple[tuple[str, Decimal], ...]:
    sums: dict[str, int] = {}
    for row in rows:
        if row[5] is not None:
            sums[row[3]] = sums.get(row[3], 0) + int(row[5])
    return tuple((code, as_amount(sums[code]) or Decimal(0)) for code in sorted(sums))
