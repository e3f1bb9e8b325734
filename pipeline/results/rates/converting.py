"""Amounts of several currencies in one: only by rates the team entered, each of them named."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_EVEN, Decimal

from pipeline.results.models import ExchangeRate
from pipeline.teams.models import Team
from pipeline.teams.money import PLACES

# (currency, first day of the month) → amount, or rate
ByMonth = Mapping[tuple[str, date], Decimal]


@dataclass(frozen=True)
class Used:
    """A rate that was used, and on which amount."""

    currency: str
    month: date
    rate: Decimal
    amount: Decimal


@dataclass(frozen=True)
class Converted:
    """A total in `currency`; `total` is `None` where a rate is missing, never a part of it."""

    currency: str
    total: Decimal | None
    used: tuple[Used, ...]
    # Currencies and months for which the team entered no rate.
    missing: tuple[tuple[str, date], ...]


def rates_into(team: Team) -> dict[tuple[str, date], Decimal]:
    """Return the rates that the team entered into the currency that is now its own."""
    rows = ExchangeRate.objects.for_team(team).filter(into=team.currency)
    return {(row.currency, row.month): row.rate for row in rows}


def in_one_currency(amounts: ByMonth, into: str, rates: ByMonth) -> Converted | None:
    """Convert each amount by the rate of its month; `None` where all are in `into` already."""
    if all(currency == into for currency, _ in amounts):
        return None
    total, used, missing = Decimal(0), [], []
    for (currency, month), amount in sorted(amounts.items()):
        if currency == into:
            total += amount
        elif (rate := rates.get((currency, month))) is None:
            missing.append((currency, month))
        else:
            total += amount * rate
            used.append(Used(currency, month, rate, amount))
    exact = total.quantize(Decimal(1).scaleb(-PLACES), ROUND_HALF_EVEN)
    return Converted(into, None if missing else exact, tuple(used), tuple(missing))
