"""Forms to find free times and to hold some of them."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

from django import forms

from pipeline.leads.models import Contact, Lead
from pipeline.teams.forms import OnceForm
from sessions.forms import Crewed
from sessions.models import Format
from sessions.models.format import LONGEST

FIRST_DAY, LAST_DAY = date(2000, 1, 1), date(2100, 1, 1)


class TimesForm(Crewed):
    """For whom, how long, when, and on whose clocks to look for times."""

    format = forms.ModelChoiceField(Format.objects.none(), empty_label="choose a format")
    minutes = forms.IntegerField(
        required=False,
        min_value=1,
        max_value=LONGEST,
        help_text="Leave it blank for as long as the format takes.",
    )
    contact = forms.ModelChoiceField(
        Contact.objects.none(),
        required=False,
        empty_label="nobody in particular",
        label="On whose clock as well",
        help_text="Who gets the times by letter, too.",
    )
    first = forms.DateField(
        label="From",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": "Give a day, such as 2026-03-24."},
    )
    days = forms.IntegerField(label="Days to look at", min_value=1, max_value=28)
    only_ours = forms.BooleanField(
        label="Outside the contact's hours of work too",
        required=False,
        help_text="Where the clocks lie so far apart that no common hour is left.",
    )
    place = forms.CharField(label="Joining link or place", max_length=300, required=False)

    field_order = (
        "format",
        "minutes",
        "facilitator",
        "note_taker",
        "supports",
        "contact",
        "first",
        "days",
        "only_ours",
        "place",
    )

    def __init__(self, *args: Any, lead: Lead, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        del self.fields["all_the_same"]
        self.offer_members(lead.team)
        choices: dict[str, Any] = self.fields
        choices["format"].queryset = Format.objects.for_team(lead.team).for_booking()
        contacts = Contact.objects.for_team(lead.team).filter(lead=lead, erased_at=None)
        choices["contact"].queryset = contacts.order_by("name", "pk")
        team = lead.team
        choices["first"].help_text = (
            f"Looked for are {team.day_starts:%H:%M} to {team.day_ends:%H:%M} of working days, on "
            f"the clock of {team.timezone} and on the contact's."
        )

    def clean_first(self) -> date:
        """Keep to days that calendars know."""
        day: date = self.cleaned_data["first"]
        if not FIRST_DAY <= day <= LAST_DAY:
            raise forms.ValidationError("Name a day from 2000 to 2100.")
        return day

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if data.get("minutes") is None and data.get("format") and "minutes" not in self.errors:
            data["minutes"] = data["format"].minutes
        return data

    def may_search(self) -> bool:
        """Tell whether all that a search needs is there, whatever is wrong besides."""
        return self.is_bound and not set(self.errors) - {"starts", "submission", "__all__"}

    def search_fields(self) -> list[forms.BoundField]:
        """Return the fields of the search, in order."""
        return [self[name] for name in self.field_order]


class Starts(forms.MultipleChoiceField):
    """Some of the times that were found, as moments in UTC."""

    def valid_value(self, value: str) -> bool:
        """Take any moment: whether it is still free is looked up when it is held."""
        return _moment(value) is not None

    def clean(self, value: Any) -> list[datetime]:
        """Return the moments that were ticked."""
        found = [_moment(one) for one in super().clean(value)]
        return [moment for moment in found if moment is not None]


def _moment(value: str) -> datetime | None:
    try:
        moment = datetime.fromisoformat(value)
    except ValueError:
        return None
    in_range = FIRST_DAY <= moment.date() <= LAST_DAY
    return moment.astimezone(UTC) if moment.tzinfo is not None and in_range else None


class HoldForm(OnceForm, TimesForm):
    """A search whose times were found, with those of them that are to be held."""

    starts = Starts(error_messages={"required": "Tick one to five times."})
