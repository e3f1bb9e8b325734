"""The form of a whole format: its head, its steps, its promises.

Everything works by plain posts: buttons that add, move or remove a line give the form back as
typed, with the change made and nothing stored.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import forms
from django.core.validators import MaxValueValidator
from django.forms import BaseFormSet, formset_factory

from pipeline.teams.forms import OnceForm
from sessions.models import Catch, Format, Promise, Step, Way
from sessions.models.format import LONGEST

from .draft import Draft, PromiseDraft, StepDraft, pasted

MOST_STEPS, MOST_PROMISES, SPARE = 60, 20, 2


class HeadForm(OnceForm):
    """Name, purpose and minutes of a format; and what its writer had seen."""

    name = forms.CharField(max_length=80)
    purpose = forms.CharField(
        max_length=200, required=False, help_text="What the session is for, in a sentence."
    )
    minutes = forms.IntegerField(
        label="Booked minutes", min_value=1, max_value=LONGEST, initial=60
    )
    seen = forms.CharField(widget=forms.HiddenInput, required=False)


class StepForm(forms.ModelForm):  # type: ignore[type-arg]
    """One step."""

    class Meta:
        model = Step
        fields = ["title", "minutes", "way", "catches", "prompt", "say"]
        widgets = {"say": forms.Textarea(attrs={"rows": 2})}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, first in (("way", Way.TALK), ("catches", Catch.NOTHING)):
            self.fields[name].initial = first
        self.fields["minutes"].widget.attrs["min"] = 1

    def clean(self) -> dict[str, Any] | None:
        cleaned = super().clean()
        if self.cleaned_data.get("catches") == Catch.STATEMENTS and not self.cleaned_data.get(
            "prompt"
        ):
            self.add_error("prompt", "Say what the statements answer to.")
        return cleaned


class PromiseForm(forms.ModelForm):  # type: ignore[type-arg]
    """One promised deliverable."""

    class Meta:
        model = Promise
        fields = ["title", "working_days"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        days = self.fields["working_days"]
        days.initial = 3
        days.validators.append(MaxValueValidator(250))


class BasePromises(BaseFormSet):  # type: ignore[type-arg]
    """Promises of one format: each title once."""

    def clean(self) -> None:
        titles = [form.cleaned_data.get("title") for form in self.forms if form.is_valid()]
        titles = [title for title in titles if title]
        if len(set(titles)) < len(titles):
            raise forms.ValidationError("Each promise has a title of its own.")


Steps = formset_factory(
    StepForm, extra=0, max_num=MOST_STEPS, absolute_max=MOST_STEPS + SPARE, validate_max=True
)
Promises = formset_factory(
    PromiseForm,
    formset=BasePromises,
    extra=0,
    max_num=MOST_PROMISES,
    absolute_max=MOST_PROMISES + SPARE,
    validate_max=True,
)

STEP_NAMES = tuple(StepForm.base_fields)
PROMISE_NAMES = tuple(PromiseForm.base_fields)
Lines = list[dict[str, str]]


class AgendaForms:
    """The three parts of the form, posted or fresh."""

    def __init__(self, head: HeadForm, steps: Any, promises: Any) -> None:
        self.head, self.steps, self.promises = head, steps, promises

    @classmethod
    def of(cls, draft: Draft | None, seen: str = "") -> AgendaForms:
        """Return fresh forms that hold ``draft``, with spare lines to go on."""
        head = {"seen": seen}
        steps: Lines = []
        promises: Lines = []
        if draft is not None:
            head |= {"name": draft.name, "purpose": draft.purpose, "minutes": str(draft.minutes)}
            steps = [{k: str(v) for k, v in vars(step).items()} for step in draft.steps]
            promises = [{k: str(v) for k, v in vars(p).items()} for p in draft.promises]
        return cls(HeadForm(initial=head), *_unbound(steps, promises))

    @classmethod
    def posted(cls, data: Any) -> AgendaForms:
        """Return forms that hold what was posted."""
        return cls(HeadForm(data), Steps(data, prefix="steps"), Promises(data, prefix="promises"))

    @classmethod
    def after(cls, data: Any, action: str) -> AgendaForms:
        """Return what was posted with one line moved, removed or added; nothing is judged yet."""
        steps = _lines(data, "steps", STEP_NAMES, MOST_STEPS)
        promises = _lines(data, "promises", PROMISE_NAMES, MOST_PROMISES)
        what, _, where = action.partition(":")
        at = int(where) if where.isascii() and where.isdecimal() and len(where) < 4 else -1
        if what == "up" and 0 < at < len(steps):
            steps[at - 1], steps[at] = steps[at], steps[at - 1]
        elif what == "down" and 0 <= at < len(steps) - 1:
            steps[at + 1], steps[at] = steps[at], steps[at + 1]
        elif what == "remove" and 0 <= at < len(steps):
            del steps[at]
        elif what == "paste":
            steps = [line for line in steps if line["title"] or line["minutes"]]
            steps += pasted(data.get("lines", ""))[: MOST_STEPS - len(steps)]
        head = HeadForm(initial={name: data.get(name, "") for name in HeadForm.base_fields})
        return cls(head, *_unbound(steps, promises))

    def is_valid(self) -> bool:
        """Judge all three, so that every fault is named at once."""
        parts = [self.head.is_valid(), self.steps.is_valid(), self.promises.is_valid()]
        if all(parts) and not any(form.cleaned_data for form in self.steps):
            self.head.add_error(None, "An agenda has at least one step.")
            return False
        return all(parts)

    def draft(self) -> Draft:
        """Return the valid forms as a draft; lines left blank are dropped."""
        steps = tuple(StepDraft(**f.cleaned_data) for f in self.steps if f.cleaned_data)
        promises = [PromiseDraft(**f.cleaned_data) for f in self.promises if f.cleaned_data]
        head = self.head.cleaned_data
        return Draft(
            name=" ".join(head["name"].split()),
            minutes=head["minutes"],
            purpose=head["purpose"],
            steps=steps,
            promises=tuple(sorted(promises, key=lambda p: (p.working_days, p.title))),
        )


def _unbound(steps: Lines, promises: Lines) -> tuple[Any, Any]:
    return (
        Steps(initial=[*steps, *[{} for _ in range(SPARE)]][:MOST_STEPS], prefix="steps"),
        Promises(initial=[*promises, {}][:MOST_PROMISES], prefix="promises"),
    )


def _lines(data: Mapping[str, str], prefix: str, names: tuple[str, ...], most: int) -> Lines:
    raw = data.get(f"{prefix}-TOTAL_FORMS", "")
    total = int(raw) if raw.isascii() and raw.isdecimal() and len(raw) < 4 else 0
    found = [
        {name: data.get(f"{prefix}-{n}-{name}", "") for name in names}
        for n in range(min(total, most + SPARE))
    ]
    return [line for line in found if line["title"] or line.get("minutes")]


def format_named(row: Format) -> str:
    """Return a format's name with its version, as one of several."""
    return f"{row.name}, version {row.version}"
