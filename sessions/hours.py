"""A form's field for a day and an hour on the team's clock."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.dateparse import parse_datetime
from django.utils.timezone import get_current_timezone

FIRST_YEAR, LAST_YEAR = 2000, 2100


class LocalMomentInput(forms.DateTimeInput):
    """The browser's own field for a day and an hour."""

    input_type = "datetime-local"

    def format_value(self, value: Any) -> str | None:
        """Show a moment on the team's clock; keep what can't be read as it was typed."""
        moment = _parsed(value) if isinstance(value, str) else value
        if not isinstance(moment, datetime):
            return None if value in (None, "") else str(value)
        if moment.tzinfo is not None:
            moment = moment.astimezone(get_current_timezone())
        return moment.strftime("%Y-%m-%dT%H:%M")


class LocalMoment(forms.DateTimeField):
    """A day and an hour on the team's clock, as a moment in UTC.

    An hour that the clocks skip that day is refused; of one that comes twice the first is meant.
    """

    widget = LocalMomentInput

    def to_python(self, value: Any) -> datetime | None:
        """Return the moment in UTC; ``None`` for nothing."""
        if value in self.empty_values:
            return None
        moment = value if isinstance(value, datetime) else _parsed(str(value))
        if moment is None:
            raise ValidationError(
                "Give a day and an hour, such as 2026-03-24 14:30.", code="invalid"
            )
        if not FIRST_YEAR <= moment.year <= LAST_YEAR:
            raise ValidationError(f"Name a year from {FIRST_YEAR} to {LAST_YEAR}.", code="invalid")
        if moment.tzinfo is not None:
            return moment.astimezone(UTC)
        zone = get_current_timezone()
        exact = moment.replace(tzinfo=zone).astimezone(UTC)
        shown = exact.astimezone(zone).replace(tzinfo=None)
        if shown != moment:
            raise ValidationError(
                f"The clocks go forward that day and skip {moment:%H:%M}; "
                f"{shown:%H:%M} is the hour that follows.",
                code="skipped",
            )
        return exact


def _parsed(value: str) -> datetime | None:
    try:
        # a day alone would be read as its midnight
        moment = parse_datetime(value.strip()) if ":" in value else None
    except ValueError:
        return None
    return moment.replace(second=0, microsecond=0) if moment else None
