"""Forms of follow-ups."""

from __future__ import annotations

from typing import Any, ClassVar

from django import forms

from pipeline.teams.forms import OnceForm, VersionedForm, members_of
from pipeline.teams.models import Member, Team

from .models import FollowUp


class DayInput(forms.DateInput):
    """A browser's own chooser of a day."""

    input_type = "date"

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(format="%Y-%m-%d", **kwargs)


class NewFollowUpForm(OnceForm):
    """A follow-up added by hand."""

    action = forms.CharField(label="What to do", max_length=200)
    due_on = forms.DateField(
        label="Due",
        widget=DayInput,
        help_text="A day on which nobody works moves on to the next working day.",
    )
    owner = forms.ModelChoiceField(
        label="Who does it", queryset=Member.objects.none(), required=False, empty_label="nobody"
    )

    def __init__(self, *args: Any, team: Team, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["owner"].queryset = members_of(team)  # type: ignore[attr-defined]


class FollowUpForm(VersionedForm):
    """An open follow-up's action, day and owner."""

    class Meta:
        model = FollowUp
        fields: ClassVar = ["action", "due_on", "owner"]
        labels: ClassVar = {"owner": "Who does it"}
        widgets: ClassVar = {"due_on": DayInput}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        owner = self.fields["owner"]
        owner.queryset = members_of(self.instance.team)  # type: ignore[attr-defined]
        owner.empty_label = "nobody"  # type: ignore[attr-defined]


class PutOffForm(forms.Form):
    """Until when."""

    until = forms.DateField(label="Put off until", widget=DayInput)
    version = forms.IntegerField(widget=forms.HiddenInput, min_value=1)


class GiveForm(forms.Form):
    """To whom."""

    owner = forms.ModelChoiceField(
        label="Give to", queryset=Member.objects.none(), empty_label="choose a member"
    )
    version = forms.IntegerField(widget=forms.HiddenInput, min_value=1)

    def __init__(self, *args: Any, team: Team, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["owner"].queryset = members_of(team)  # type: ignore[attr-defined]


class DropForm(forms.Form):
    """Why."""

    reason = forms.CharField(
        label="Drop, because", max_length=500, widget=forms.TextInput, strip=True
    )
