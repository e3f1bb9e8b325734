"""The form of a month's exchange rate."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from pipeline.leads.fields import CurrencyField, MonthField, MonthOrDay
from pipeline.results.models import MAX_DIGITS, PLACES, ExchangeRate
from pipeline.teams.forms import OnceForm, VersionedForm
from pipeline.teams.models import Versioned


class OneMonth(MonthField):
    """A month as ``YYYY-MM``; a day is refused."""

    default_error_messages = {"invalid": "Write a month such as 2026-09."}

    def to_python(self, value: Any) -> Any:
        """Return the month by its first day."""
        month = super().to_python(value)
        if isinstance(month, MonthOrDay) and not month.by_month:
            raise ValidationError(self.error_messages["invalid"], code="invalid")
        return month


class RateInput(forms.DecimalField):
    """A rate of exchange, more than 0, with a decimal point."""

    widget = forms.TextInput(attrs={"inputmode": "decimal"})
    default_error_messages = {"invalid": "Write digits and a decimal point, such as 0.9215."}

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(
            max_digits=MAX_DIGITS, decimal_places=PLACES, min_value=0, localize=False, **kwargs
        )

    def prepare_value(self, value: Any) -> Any:
        """Show a stored rate without the zeros at its end."""
        return f"{value.normalize():f}" if isinstance(value, Decimal) else value


class RateFields(forms.Form):
    """What is asked of a rate."""

    month = OneMonth(help_text="Such as 2026-03.")
    currency = CurrencyField(help_text="The other currency, such as USD.")
    rate = RateInput()

    def say_into(self, into: str) -> None:
        """Say in which currency the rate is told."""
        self.fields["rate"].help_text = f"What one unit of it is worth in {into}."


class NewRate(OnceForm, RateFields):
    """A new rate."""

    field_order = ["month", "currency", "rate"]


class RateForm(RateFields, VersionedForm):
    """Correct a rate."""

    class Meta:
        model = ExchangeRate
        fields = ("currency", "rate")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial["month"] = self.stored["month"]

    def as_stored(self, row: Versioned) -> dict[str, Any]:
        """Return the stored values, the month as a month."""
        assert isinstance(row, ExchangeRate)
        month = MonthOrDay(row.month, by_month=True)
        return {"month": month, "currency": row.currency, "rate": row.rate}

    def clean(self) -> dict[str, Any]:
        """Hand the month on to the row."""
        super().clean()
        if month := self.cleaned_data.get("month"):
            self.instance.month = month.day
        return self.cleaned_data
