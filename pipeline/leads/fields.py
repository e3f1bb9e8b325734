"""Form fields for days, months, amounts, and words with suggestions.

Amounts and months are typed into plain text boxes: a browser's own box for numbers hands on
nothing at all where it cannot read what was typed, and what was typed would be lost.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import MinValueValidator

from pipeline.teams.money import MAX_DIGITS, PLACES, currencies

# No agency keeps leads from before; a year typed with too few digits lies before it.
FIRST_DAY = date(1900, 1, 1)
MONTH_OR_DAY = re.compile(r"(\d{4})-(\d{1,2})(?:-(\d{1,2}))?", re.ASCII)
TOO_EARLY = MinValueValidator(FIRST_DAY, "Write the year with its four digits, such as 2026.")


class DayField(forms.DateField):
    """A day, with the browser's own calendar."""

    default_validators = [TOO_EARLY]
    widget = forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})
    default_error_messages = {"invalid": "Write the day as year-month-day, such as 2026-03-31."}


@dataclass(frozen=True)
class MonthOrDay:
    """A month, told by its first day, or one day."""

    day: date
    by_month: bool

    def __str__(self) -> str:
        # strftime leaves years before 1000 without their zeros
        return self.day.isoformat()[: 7 if self.by_month else 10]


class MonthField(forms.CharField):
    """A month as ``YYYY-MM``, or a day."""

    default_error_messages = {
        "invalid": "Write a month such as 2026-09, or a day such as 2026-09-14."
    }

    def to_python(self, value: Any) -> Any:
        """Return a ``MonthOrDay``, or ``None`` for nothing."""
        if isinstance(value, MonthOrDay):
            return value
        text = super().to_python(value)
        if not text:
            return None
        read = MONTH_OR_DAY.fullmatch(text)
        try:
            if read is None:
                raise ValueError
            day = date(int(read[1]), int(read[2]), int(read[3] or 1))
        except ValueError:
            raise ValidationError(self.error_messages["invalid"], code="invalid") from None
        TOO_EARLY(day)
        return MonthOrDay(day, by_month=read[3] is None)

    def run_validators(self, value: Any) -> None:
        """Nothing is left to check: the text was read as a day."""


class AmountInput(forms.DecimalField):
    """An amount of money, zero or more, with a decimal point."""

    widget = forms.TextInput(attrs={"inputmode": "decimal"})
    default_error_messages = {
        "invalid": "Write digits and a decimal point, without thousands marks, such as 12500.50."
    }

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(
            max_digits=MAX_DIGITS, decimal_places=PLACES, min_value=0, localize=False, **kwargs
        )

    def prepare_value(self, value: Any) -> Any:
        """Show a stored amount with two places, or with all of them where it has more."""
        if isinstance(value, Decimal) and value == (short := value.quantize(Decimal("0.01"))):
            return short
        return value


class Suggesting(forms.TextInput):
    """A text box that suggests known words and takes others."""

    template_name = "leads/suggesting.html"

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__(attrs)
        self.known: list[str] = []

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        """Tie the box to its list of suggestions."""
        context = super().get_context(name, value, attrs)
        named = f"{context['widget']['attrs'].get('id', name)}_known"
        context["widget"]["attrs"]["list"] = named
        return {**context, "known": self.known, "named": named}


class SuggestedField(forms.CharField):
    """Free words, with known ones suggested."""

    widget = Suggesting

    def suggest(self, known: Iterable[str]) -> None:
        """Offer ``known``."""
        assert isinstance(self.widget, Suggesting)
        self.widget.known = list(known)


class CurrencyField(SuggestedField):
    """A currency of ISO 4217, in whatever case it is typed."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("help_text", "Three letters, such as EUR.")
        super().__init__(**kwargs)
        self.suggest(sorted(currencies()))

    def clean(self, value: Any) -> str:
        """Return the code in capitals."""
        code: str = super().clean(value).upper()
        if code and code not in currencies():
            raise ValidationError("Name a currency by its three letters, such as EUR.")
        return code


class WordsField(forms.CharField):
    """Several lines of free words; no limit but that of the request."""

    widget = forms.Textarea(attrs={"rows": 4})

    def to_python(self, value: Any) -> str:
        """Return the words with plain line ends: browsers send others than they were given."""
        return str(super().to_python(value)).replace("\r\n", "\n")
