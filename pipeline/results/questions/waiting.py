"""Who waits for a budget: counted by how long, and as a list of leads to write to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from enum import Enum
from typing import Any, NamedTuple

from pipeline.leads.models import Decision, DecisionKind, Lead
from pipeline.results.cohort import Cohort
from pipeline.results.sql import as_amount, as_day, as_parameter, thousandths


class Alike(NamedTuple):
    """Leads that said "no budget yet", alike in how long they waited and what ended it."""

    waited: int
    # 0 still waiting, 1 returned, 2 closed.
    cause: int
    entry: int
    # Whether they were ever at risk while the team followed them.
    on_curve: bool
    leads: int


class Fees(NamedTuple):
    """The expected fees of waiting leads of one age, in one currency."""

    waited: int
    # None: no fee is expected, or it is not known.
    currency: str | None
    leads: int
    total: Decimal
    # The sum of the squares, only for how sure a forecast is.
    squares: float


class WaitingLead(NamedTuple):
    """A lead to write to, as it is listed."""

    lead: int
    reference: str
    organisation: str
    owner: int | None
    session: int
    held_on: date
    no_budget_on: date
    waited: int
    # None: no money was noted to arrive.
    funded_on: date | None
    # The day, or the first of the month, for which money is expected; None: not known.
    expected_on: date | None
    by_month: bool
    fee: Decimal | None
    currency: str


class Order(Enum):
    """How waiting leads are listed; leads of which it is not known come last."""

    WORTH = "worth"
    CHANCE = "chance"
    MONTH = "month"


def waits_alike(cohort: Cohort) -> list[Alike]:
    """Return the counts from which the curve of return and the ages of the waiting follow."""
    rows = cohort.ask(
        "SELECT waited, cause, entry, on_curve, COUNT(*) FROM waits GROUP BY 1, 2, 3, 4"
    )
    return [
        Alike(waited, cause, entry, bool(on), leads) for waited, cause, entry, on, leads in rows
    ]


def expected_fees(cohort: Cohort) -> list[Fees]:
    """Return the fees expected of those who wait: one row an age and currency."""
    square = "CAST(expected_fee AS DOUBLE PRECISION)"
    rows = cohort.ask(
        f"""
        SELECT waited, CASE WHEN expected_fee > 0 THEN currency END, COUNT(*),
            COALESCE(SUM({thousandths("expected_fee")}), 0),
            COALESCE(SUM({square} * {square}), 0)
        FROM waits
        WHERE cause = 0
        GROUP BY 1, 2
        """
    )
    return [
        Fees(waited, currency, leads, as_amount(total) or Decimal(0), float(squares))
        for waited, currency, leads, total, squares in rows
    ]


def came_back(cohort: Cohort, since: date) -> int:
    """Return how many of those who waited on the day `since` had returned by the cohort's day."""
    rows = cohort.ask(
        """
        SELECT COUNT(*) FROM waits
        WHERE cause = 1 AND no_budget_on <= %(since)s AND ended_on > %(since)s
        """,
        since=as_parameter(since),
    )
    return int(rows[0][0])


def first_wait(cohort: Cohort) -> date | None:
    """Return the day on which anybody first said "no budget yet"; `None` where nobody did."""
    return as_day(cohort.ask("SELECT MIN(no_budget_on) FROM waits")[0][0])


def waiting_leads(
    cohort: Cohort,
    chances: Mapping[int, float],
    order: Order,
    *,
    limit: int,
    offset: int = 0,
) -> list[WaitingLead]:
    """Return a page of those who wait, by the chance that belongs to how long each has waited.

    Chance times fee is put in order only within one currency: the team's own first, then the
    others by their code.
    """
    fee = "CAST(expected_fee AS DOUBLE PRECISION)"
    by = {
        Order.WORTH: f"""CASE WHEN chance IS NULL OR expected_fee IS NULL THEN 1 ELSE 0 END,
            CASE WHEN currency = %(own)s THEN 0 ELSE 1 END, currency,
            chance * {fee} DESC, CASE WHEN chance IS NULL THEN 1 ELSE 0 END, chance DESC""",
        Order.CHANCE: "CASE WHEN chance IS NULL THEN 1 ELSE 0 END, chance DESC",
        Order.MONTH: "CASE WHEN expected_on IS NULL THEN 1 ELSE 0 END, expected_on",
    }[order]
    rows = cohort.ask(
        f"""
        , hoped AS (
            SELECT lead_id, funding_expected_on AS expected_on, expected_by_month,
                ROW_NUMBER() OVER (PARTITION BY lead_id ORDER BY day DESC, id DESC) AS number
            FROM {Decision._meta.db_table}
            WHERE team_id = %(team)s AND kind = '{DecisionKind.NO_BUDGET.value}'
                AND day <= %(as_of)s AND funding_expected_on IS NOT NULL
        ), listed AS (
            SELECT waits.*, expected_on, expected_by_month,
                CAST({_of_age(sorted(chances.items()))} AS DOUBLE PRECISION) AS chance
            FROM with_funding waits
            LEFT JOIN hoped ON hoped.lead_id = waits.lead_id AND hoped.number = 1
            WHERE cause = 0
        ), page AS (
            SELECT listed.*, ROW_NUMBER() OVER (ORDER BY {by}, waited, lead_id) AS place
            FROM listed
        )
        SELECT page.lead_id, lead.reference, lead.organisation, page.owner_id, session_id,
            page.index_day, no_budget_on, waited, funded_on, expected_on, expected_by_month,
            {thousandths("page.expected_fee")}, page.currency
        FROM page
        JOIN {Lead._meta.db_table} lead ON lead.id = page.lead_id
        WHERE place > %(offset)s AND place <= %(offset)s + %(limit)s
        ORDER BY place
        """,
        own=cohort.team.currency,
        limit=limit,
        offset=offset,
    )
    return [_lead(row) for row in rows]


def _of_age(chances: Sequence[tuple[int, float]]) -> str:
    """SQL for the chance that belongs to `waited`, found by halving: a join would go through all
    ages for each lead."""
    if not chances:
        return "NULL"
    if len(chances) == 1:
        age, chance = chances[0]
        return f"CASE WHEN waited = {int(age)} THEN {float(chance)!r} END"
    middle = len(chances) // 2
    return (
        f"CASE WHEN waited < {int(chances[middle][0])} THEN {_of_age(chances[:middle])} "
        f"ELSE {_of_age(chances[middle:])} END"
    )


def _lead(row: tuple[Any, ...]) -> WaitingLead:
    lead, reference, organisation, owner, session, *rest = row
    held_on, no_budget_on, waited, funded_on, expected_on, by_month, fee, currency = rest
    held, said = as_day(held_on), as_day(no_budget_on)
    assert held is not None
    assert said is not None
    return WaitingLead(
        lead=lead,
        reference=reference,
        organisation=organisation,
        owner=owner,
        session=session,
        held_on=held,
        no_budget_on=said,
        waited=waited,
        funded_on=as_day(funded_on),
        expected_on=as_day(expected_on),
        # Nothing is told where nothing is expected.
        by_month=by_month is None or bool(by_month),
        fee=as_amount(fee),
        currency=currency,
    )
