"""Forms of a plan's steps."""

from __future__ import annotations

from typing import Any

from django import forms

from pipeline.teams.forms import OnceForm, VersionedForm

from .editing import TYPED, current_of
from .letter_words import FILLED_IN
from .models import OF_EXPECTED_MONEY, PlanStep, Trigger, Unit

HELP = {
    "count": "0 is the same day.",
    "times": "1 is once. With 8, “3 months after” becomes every 3 months, at most 8 times.",
    "letter_subject": "Whoever does it may write to the lead: a draft, never sent by itself.",
    "letter_text": "Filled in for each lead: "
    + "; ".join(f"{{{name}}}, {meaning}" for name, meaning in FILLED_IN.items())
    + ".",
}
LABELS = {"count": "How many", "unit": "Counted in", "times": "How often at most"}
WIDGETS = {"letter_text": forms.Textarea(attrs={"rows": 9})}


def units(*, money: bool) -> list[tuple[str, str]]:
    """Return what an offset may count; from expected money only where some can be expected."""
    return [
        (unit, words) for unit, words in Unit.choices if money or unit not in OF_EXPECTED_MONEY
    ]


class NewStepForm(OnceForm, forms.ModelForm):  # type: ignore[type-arg]
    """A step that is new."""

    class Meta:
        model = PlanStep
        fields = ("trigger", *TYPED)
        labels = LABELS
        help_texts = HELP
        widgets = WIDGETS

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["unit"].choices = units(money=True)  # type: ignore[attr-defined]


class StepForm(VersionedForm):
    """A step of the plan, what it follows apart: another trigger is another step."""

    class Meta:
        model = PlanStep
        fields = TYPED
        labels = LABELS
        help_texts = HELP
        widgets = WIDGETS

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        money = self.instance.trigger == Trigger.NO_BUDGET
        self.fields["unit"].choices = units(money=money)  # type: ignore[attr-defined]

    def current(self) -> PlanStep | None:
        """Return the step as the newest edition has it: each edition has rows of its own."""
        return current_of(self.instance)


class RemoveForm(forms.Form):
    """Which version of a step is to go."""

    version = forms.IntegerField(widget=forms.HiddenInput, min_value=1)


class EditionForm(forms.Form):
    """Which edition was seen when a button was pressed."""

    number = forms.IntegerField(widget=forms.HiddenInput, min_value=1)
