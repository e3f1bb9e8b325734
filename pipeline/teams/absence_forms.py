"""Forms of absences: a new one, and an edit."""

from __future__ import annotations

from typing import Any

from django import forms

from .absences import LAST_BEFORE_FIRST
from .forms import OnceForm, VersionedForm, members_of
from .models import Absence, Member, Role, Team


class AwayDay(forms.DateField):
    """A day on which somebody is away."""

    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    default_error_messages = {"invalid": "Give a day, such as 2026-03-24."}


class AbsenceFields(forms.Form):
    """What is asked of an absence."""

    first_day = AwayDay(label="First day away")
    last_day = AwayDay(label="Last day away")
    stand_in = forms.ModelChoiceField(
        Member.objects.none(),
        required=False,
        empty_label="nobody: the work is everybody’s meanwhile",
        label="Stand-in",
        help_text="Nothing changes its owner: after the last day all is as before.",
    )
    note = forms.CharField(
        required=False,
        max_length=200,
        help_text="Everybody in the team reads it. No reason is needed.",
    )

    def __init__(self, *args: Any, team: Team, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["stand_in"].queryset = members_of(team)  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        super().clean()
        first, last = (self.cleaned_data.get(name) for name in ("first_day", "last_day"))
        if first and last and last < first:
            self.add_error("last_day", LAST_BEFORE_FIRST)
        return self.cleaned_data


class NewAbsence(AbsenceFields, OnceForm):
    """A new absence: one's own; an owner says whose."""

    member = forms.ModelChoiceField(Member.objects.none(), label="Who is away", empty_label=None)
    field_order = ("member",)

    def __init__(self, *args: Any, by: Member, **kwargs: Any) -> None:
        super().__init__(*args, team=by.team, **kwargs)
        if by.may(Role.OWNER):
            self.fields["member"].queryset = members_of(by.team)  # type: ignore[attr-defined]
            self.initial.setdefault("member", by.pk)
        else:
            del self.fields["member"]


class AbsenceForm(AbsenceFields, VersionedForm):
    """An absence that is corrected; whose it is stays."""

    class Meta:
        model = Absence
        fields = ("first_day", "last_day", "stand_in", "note")
