"""The form of a team's settings."""

from __future__ import annotations

from typing import Any

from django import forms

from pipeline.clock.workdays import country_codes, country_names
from pipeline.clock.zones import zone_names
from pipeline.teams.money import currencies

from .days_off import DaysOffField
from .forms import VersionedForm
from .models import Team

WEEKDAYS = ["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"]
MINUTES = 60
MOST_HOURS = 7 * 24


class HoursField(forms.DecimalField):
    """Whole minutes, typed as hours: 1.5 stands for 90."""

    def prepare_value(self, value: Any) -> Any:
        return f"{round(value / MINUTES, 2):g}" if isinstance(value, int) else value

    def clean(self, value: Any) -> Any:
        hours = super().clean(value)
        return hours if hours is None else round(hours * MINUTES)

    def has_changed(self, initial: Any, data: Any) -> bool:
        try:
            return bool(initial != self.clean(data))
        except forms.ValidationError:
            return True


class TeamForm(VersionedForm):
    """Name, place, working week, money, digest, and the limits of free hours and of writing."""

    timezone = forms.ChoiceField(label="Time zone", choices=lambda: [(z, z) for z in zone_names()])
    country = forms.ChoiceField(
        required=False,
        choices=lambda: [("", "no public holidays"), *country_names()],
        help_text="Whose public holidays are no working days.",
    )
    subdivision = forms.CharField(
        required=False,
        max_length=8,
        label="Part of the country",
        help_text="Its code, where it has holidays of its own, such as BY for Bavaria.",
    )
    working_days = forms.TypedMultipleChoiceField(
        coerce=int,
        choices=list(enumerate(WEEKDAYS)),
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Choose at least one working day."},
    )
    days_off = DaysOffField(
        required=False,
        label="Days off",
        help_text=(
            "Nobody works on these either; follow-ups move past them. One line each: a day, or "
            "the first to the last, and what it is, such as 2026-12-24 to 2027-01-01 Winter break."
        ),
    )
    day_starts = forms.TimeField(
        label="Day starts",
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        error_messages={"invalid": "Give an hour, such as 09:00."},
        help_text="Times for sessions are looked for from here on, on both clocks.",
    )
    day_ends = forms.TimeField(
        label="Day ends",
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        error_messages={"invalid": "Give an hour, such as 17:00."},
    )
    currency = forms.ChoiceField(choices=lambda: [(c, c) for c in sorted(currencies())])
    digest_hour = forms.TypedChoiceField(
        coerce=int,
        label="Hour of the digest",
        choices=[(hour, f"{hour:02}:00") for hour in range(24)],
        help_text="Local time, on working days.",
    )
    weekly_free_minutes = HoursField(
        label="Free hours a week",
        min_value=0.25,
        max_value=MOST_HOURS,
        decimal_places=2,
        help_text="Booking warns when a week's free sessions would pass this.",
    )
    least_chance = forms.IntegerField(
        label="Least chance worth a letter, in %",
        min_value=1,
        max_value=50,
        help_text=(
            "Of a waiting lead's return in the next 90 days. Results say from which waiting time "
            "on the chance is surely below it."
        ),
    )
    colour = forms.CharField(
        max_length=7,
        widget=forms.TextInput(attrs={"type": "color"}),
        help_text="Of headings in documents; dark enough to be read on white.",
    )

    class Meta:
        model = Team
        fields = (
            "name",
            "timezone",
            "country",
            "subdivision",
            "working_days",
            "days_off",
            "day_starts",
            "day_ends",
            "currency",
            "digest_hour",
            "weekly_free_minutes",
            "least_chance",
            "colour",
        )

    def clean_subdivision(self) -> str:
        """Take the code in any case."""
        code = str(self.cleaned_data["subdivision"]).strip()
        known = country_codes().get(self.cleaned_data.get("country", ""), [])
        return next((k for k in known if k.lower() == code.lower()), code)
