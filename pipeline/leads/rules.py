"""Rules that several facts of a lead share; each refuses in words."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from django.core.exceptions import ValidationError

from pipeline.teams.models import Team
from pipeline.teams.money import check_currency
from pipeline.teams.refused import Refused

from .models import DecisionKind, Lead


def hold(lead_id: int) -> Lead:
    """Return the lead, held until the transaction ends; refuse one that was merged away."""
    lead: Lead = Lead.objects.lock(lead_id)
    if lead.merged_into is not None:
        raise Refused(
            f"Meanwhile this lead was merged into {lead.kept()}. "
            "What you typed is kept here; enter it there."
        )
    return lead


def not_after(day: date | None, today: date, *, field: str) -> None:
    """Refuse a day that is still to come."""
    if day is not None and day > today:
        raise Refused(f"This day is still to come. Give today, {today}, or one before.", field)


def money(
    amount: Decimal | None, currency: str, team: Team, *, field: str
) -> tuple[Decimal | None, str]:
    """Return an amount with its currency, the team's where none is named; none for no amount."""
    if amount is None:
        return None, ""
    if amount < 0:
        raise Refused("An amount is zero or more.", field)
    currency = currency or team.currency
    try:
        check_currency(currency)
    except ValidationError as wrong:
        raise Refused(str(wrong.message), "currency") from None
    return amount, currency


def fits(kind: str, *, fee: Decimal | None, expected_on: date | None, expected_from: str) -> None:
    """Refuse what does not go with a decision of this kind."""
    mend = "Empty it, or choose that decision."
    if fee is not None and kind != DecisionKind.ENGAGED:
        raise Refused(f"A fee goes with “engaged” only. {mend}", "fee")
    for field, value in (("funding_expected_on", expected_on), ("funding_from", expected_from)):
        if value and kind != DecisionKind.NO_BUDGET:
            raise Refused(f"Expected money goes with “no budget yet” only. {mend}", field)
