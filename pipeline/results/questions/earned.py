"""What engagements brought, returns told apart; and which session earned each return."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any, NamedTuple

from pipeline.leads.models import Lead
from pipeline.results.cohort import Cohort
from pipeline.results.sql import as_amount, as_day, thousandths


class Fees(NamedTuple):
    """Engagements with a fee in one currency; without a currency, those with no fee noted."""

    currency: str | None
    engaged: int
    returned: int
    total: Decimal
    of_returns: Decimal
    # Sums of squares, only for how sure the share of returns is.
    squares: float
    squares_of_returns: float


class Earned(NamedTuple):
    """One return, and the session that earned it."""

    lead: int
    reference: str
    organisation: str
    session: int
    held_on: date
    format: str | None
    no_budget_on: date
    # None: no money was noted to arrive while it waited.
    funded_on: date | None
    engaged_on: date
    waited: int
    fee: Decimal | None
    currency: str | None


def fees(cohort: Cohort) -> list[Fees]:
    """Return one row a currency, in order of its code, those without a fee last."""
    amount, square = thousandths("fee"), "CAST(fee AS DOUBLE PRECISION)"
    back = "cause = 1 AND no_budget_on <= engaged_on"
    rows = cohort.ask(
        f"""
        SELECT CASE WHEN fee IS NOT NULL THEN fee_currency END,
            COUNT(*), COUNT(*) FILTER (WHERE {back}),
            COALESCE(SUM({amount}), 0), COALESCE(SUM({amount}) FILTER (WHERE {back}), 0),
            COALESCE(SUM({square} * {square}), 0),
            COALESCE(SUM({square} * {square}) FILTER (WHERE {back}), 0)
        FROM counted
        WHERE cause = 1
        GROUP BY 1
        """
    )
    found = [
        Fees(currency, engaged, returned, _sum(total), _sum(part), float(squares), float(some))
        for currency, engaged, returned, total, part, squares, some in rows
    ]
    return sorted(found, key=lambda row: (row.currency is None, row.currency or ""))


def _sum(told: Any) -> Decimal:
    return as_amount(told) or Decimal(0)


def earned(cohort: Cohort, *, limit: int, offset: int = 0) -> list[Earned]:
    """Return a page of the returns, the newest first."""
    rows = cohort.ask(
        f"""
        SELECT waits.lead_id, lead.reference, lead.organisation, session_id, waits.index_day,
            format_name, no_budget_on, funded_on, engaged_on, waited,
            {thousandths("fee")}, fee_currency
        FROM with_funding waits
        JOIN {Lead._meta.db_table} lead ON lead.id = waits.lead_id
        WHERE cause = 1
        ORDER BY engaged_on DESC, waits.lead_id DESC
        LIMIT %(limit)s OFFSET %(offset)s
        """,
        limit=limit,
        offset=offset,
    )
    return [_earned(row) for row in rows]


def _earned(row: tuple[Any, ...]) -> Earned:
    plain: dict[str, Any] = dict(zip(Earned._fields, row, strict=True))
    for name in ("held_on", "no_budget_on", "funded_on", "engaged_on"):
        plain[name] = as_day(plain[name])
    return Earned(**{**plain, "fee": as_amount(plain["fee"])})
