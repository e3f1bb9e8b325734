"""Enter, correct and remove a month's exchange rate."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from django.db import IntegrityError, transaction

from pipeline.results.models import ExchangeRate
from pipeline.teams.models import Team
from pipeline.teams.refused import Refused


def enter(*, team: Team, today: date, month: date, currency: str, rate: Decimal) -> ExchangeRate:
    """Store what one unit of ``currency`` was worth in the team's currency in one month."""
    row = ExchangeRate(team=team, month=month, currency=currency, into=team.currency, rate=rate)
    return _store(row, today, expected_version=None)


def amend(*, rate: ExchangeRate, today: date, expected_version: int) -> ExchangeRate:
    """Store a corrected rate; it stays one into the currency that it was entered for."""
    return _store(rate, today, expected_version)


def remove(*, rate: ExchangeRate) -> None:
    """Remove a rate; amounts that it converted stand by themselves again."""
    rate.delete()


@transaction.atomic
def _store(row: ExchangeRate, today: date, expected_version: int | None) -> ExchangeRate:
    row.month = row.month.replace(day=1)
    if row.month > today:
        raise Refused("This month lies ahead; its rate is not known yet.", "month")
    if row.currency == row.into:
        raise Refused(f"Amounts in {row.into} need no rate; name another currency.", "currency")
    if row.rate <= 0:
        raise Refused("A rate is more than 0.", "rate")
    try:
        with transaction.atomic():
            if expected_version is None:
                row.save(force_insert=True)
            else:
                row.save_version(expected_version)
    except IntegrityError:
        raise Refused(
            f"There is a rate for {row.currency} in {row.month:%Y-%m} already. "
            "Give another month, or correct that one.",
            "month",
        ) from None
    return row
