"""Forms for deliverables."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.core.validators import URLValidator

from pipeline.teams.forms import OnceForm, VersionedForm, members_of
from pipeline.teams.models import Member, Team

from .forms import who_may
from .models import Deliverable


class WaiveForm(forms.Form):
    """Why a deliverable is not sent."""

    reason = forms.CharField(
        label="Why it will not be sent",
        widget=forms.Textarea(attrs={"rows": 3}),
        max_length=2000,
    )


class SentForm(forms.Form):
    """When and to whom a deliverable was sent."""

    sent_on = forms.DateField(
        label="Day it was sent",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": "Give a day, such as 2026-03-24."},
    )
    sent_to = forms.CharField(label="To whom", max_length=300)


class DeliverableForm(VersionedForm):
    """What is known of a deliverable."""

    link = forms.URLField(
        max_length=500,
        required=False,
        assume_scheme="https",
        validators=[URLValidator(schemes=["http", "https"])],
        help_text="Where it can be read, if it isn't uploaded here.",
    )

    class Meta:
        model = Deliverable
        fields = ("title", "due_on", "owner", "link")
        widgets = {"due_on": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        owner: Any = self.fields["owner"]
        owner.queryset = who_may(self.instance.team, {self.stored["owner"]} - {None})
        owner.empty_label = "nobody"

    def clean_due_on(self) -> date:
        """Refuse years that no working day can be counted in."""
        return plausible(self.cleaned_data["due_on"])


class PromiseByHandForm(OnceForm):
    """Something promised that the format does not promise."""

    title = forms.CharField(max_length=120)
    due_on = forms.DateField(
        label="Due", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    owner = forms.ModelChoiceField(Member.objects.none(), required=False, empty_label="nobody")

    def __init__(self, *args: Any, team: Team, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        owner: Any = self.fields["owner"]
        owner.queryset = members_of(team)

    def clean_due_on(self) -> date:
        """Refuse years that no working day can be counted in."""
        return plausible(self.cleaned_data["due_on"])


def plausible(day: date) -> date:
    """Return ``day``, or refuse it where its year was surely not meant."""
    if not 2000 <= day.year <= 2100:
        raise forms.ValidationError("Name a year from 2000 to 2100.")
    return day


class UploadForm(forms.Form):
    """A file for a deliverable, and which stored file it replaces."""

    upload = forms.FileField(
        label="Choose a file", help_text="PDF, PNG, JPEG, ZIP or an office document, up to 20 MB."
    )
    replaces = forms.CharField(required=False, widget=forms.HiddenInput)
