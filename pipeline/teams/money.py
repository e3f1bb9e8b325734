"""Amounts: exact decimals in a currency of ISO 4217, never floats."""

from __future__ import annotations

from decimal import Decimal
from functools import cache

import iso4217
from django.core.exceptions import ValidationError
from django.db import models

# Twelve digits before the point, three after it: the dinars divide by a thousand. SQLite keeps
# a decimal as a double, of which fifteen digits always come back as they were (DBL_DIG).
MAX_DIGITS, PLACES = 15, 3


@cache
def currencies() -> dict[str, int]:
    """Return the codes of ISO 4217 with the number of digits after the decimal point."""
    return {c.code: c.exponent or 0 for c in iso4217.Currency}


def check_currency(code: str) -> None:
    """Raise ``ValidationError`` unless ``code`` is a currency of ISO 4217."""
    if code not in currencies():
        raise ValidationError("Name a currency by its three capital letters, such as EUR.")


class AmountField(models.DecimalField):  # type: ignore[type-arg]
    """An amount of money; the currency stands in a field of its own."""

    def __init__(self, *args: object, **kwargs: object) -> None:
        kwargs.setdefault("max_digits", MAX_DIGITS)
        kwargs.setdefault("decimal_places", PLACES)
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]


def show(amount: Decimal | None, currency: str) -> str:
    """Return an amount as people read it, such as ``12,500.00 EUR``; empty for none."""
    if amount is None:
        return ""
    places = currencies().get(currency, 2)
    if amount != amount.quantize(Decimal(1).scaleb(-places)):
        places = PLACES
    return f"{amount:,.{places}f} {currency}".strip()


def about(amount: Decimal, currency: str) -> str:
    """Return an estimated amount, such as ``12,500 EUR``: more digits would only look exact."""
    return f"{amount:,.0f} {currency}".strip()
