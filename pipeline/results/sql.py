"""The few things that SQLite and PostgreSQL say differently, and amounts that add up exactly."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

from django.db import connection

from pipeline.teams.money import PLACES


def days_between(first: str, last: str) -> str:
    """Return SQL for the whole days from the day `first` to the day `last`."""
    if connection.vendor == "sqlite":
        # Days begin at noon there; the halves cancel without rounding.
        return f"CAST(julianday({last}) - julianday({first}) AS INTEGER)"
    return f"({last} - {first})"


def as_parameter(day: date) -> Any:
    """Return a day as this database compares it."""
    return connection.ops.adapt_datefield_value(day)


def as_day(told: Any) -> date | None:
    """Return the day that a query gave: SQLite gives its text."""
    return date.fromisoformat(told) if isinstance(told, str) else told


def thousandths(amount: str) -> str:
    """Return SQL for an amount as a whole number: SQLite would add decimals up as floats."""
    return f"CAST(ROUND({amount} * 1000) AS BIGINT)"


def as_amount(told: Any) -> Decimal | None:
    """Return the amount that a query gave in thousandths; `None` for none."""
    return None if told is None else Decimal(int(told)).scaleb(-PLACES)


def to_thousandths(amount: Decimal) -> int:
    """Return an amount as a whole number, to compare with `thousandths`."""
    return int(amount.scaleb(PLACES))
