"""The form of a lane chart: a table with a line a step.

Everything works by plain posts: buttons that add, move or remove a line give the form back as
typed, with the change made and nothing stored.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import forms
from django.forms import BaseFormSet, formset_factory

from sessions.models import LaneStep

from .chart import MOST_STEPS, Chart, StepDraft

SPARE = 2


class StepForm(forms.ModelForm):  # type: ignore[type-arg]
    """One line."""

    class Meta:
        model = LaneStep
        fields = ["lane", "text", "handed_over", "look_next", "why"]
        widgets = {
            "lane": forms.TextInput(attrs={"list": "lanes"}),
            "text": forms.Textarea(attrs={"rows": 2}),
            "why": forms.Textarea(attrs={"rows": 2}),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        number = str(self.prefix).rpartition("-")[2]
        if number.isdecimal():
            for field in self.fields.values():
                field.widget.attrs["aria-label"] = f"Step {int(number) + 1}: {field.label}"

    def draft(self) -> StepDraft:
        """Return a valid line on single lines, however it was typed."""
        data = self.cleaned_data
        texts = {name: _one_line(data[name]) for name in ("lane", "text", "handed_over", "why")}
        return StepDraft(**texts, look_next=data["look_next"])


class BaseSteps(BaseFormSet):  # type: ignore[type-arg]
    """Lines of a chart; any of them may be left blank."""

    def initial_form_count(self) -> int:
        return 0 if self.is_bound else super().initial_form_count()


Steps = formset_factory(
    StepForm,
    formset=BaseSteps,
    extra=0,
    max_num=MOST_STEPS,
    absolute_max=MOST_STEPS + SPARE,
    validate_max=True,
)
NAMES = tuple(StepForm.base_fields)
Lines = list[dict[str, Any]]


class VersionForm(forms.Form):
    """Which version of the chart was on the page."""

    version = forms.IntegerField(widget=forms.HiddenInput, min_value=1)


class ChartForms:
    """The version and the lines, posted or fresh; ``at`` is the line that was last touched."""

    def __init__(self, head: VersionForm, steps: Any, at: int | None = None) -> None:
        self.head, self.steps, self.at = head, steps, at
        if at is not None and 0 <= at < len(steps.forms):
            steps.forms[at].fields["lane"].widget.attrs["autofocus"] = True

    @classmethod
    def of(cls, chart: Chart, version: int) -> ChartForms:
        """Return fresh forms that hold ``chart``, with spare lines to go on."""
        lines = [vars(step) for step in chart.steps]
        return cls(VersionForm(initial={"version": version}), _unbound(lines))

    @classmethod
    def posted(cls, data: Any) -> ChartForms:
        """Return forms that hold what was posted."""
        return cls(VersionForm(data), Steps(data, prefix="steps"))

    @classmethod
    def after(cls, data: Any, action: str) -> ChartForms:
        """Return what was posted with one line moved, removed or added; nothing is judged yet."""
        lines = _lines(data)
        what, _, where = action.partition(":")
        at = int(where) if where.isascii() and where.isdecimal() and len(where) < 4 else -1
        there = 0 <= at < len(lines)
        if what == "up" and there and at > 0:
            lines[at - 1], lines[at] = lines[at], lines[at - 1]
            at -= 1
        elif what == "down" and there and at < len(lines) - 1:
            lines[at + 1], lines[at] = lines[at], lines[at + 1]
            at += 1
        elif what == "remove" and there:
            del lines[at]
        elif what == "below" and there:
            at += 1
            lines.insert(at, {})
        elif what == "paste":
            lines = [line for line in lines if _said(line)]
            at = len(lines)
            lines += pasted(data.get("lines", ""))
        head = VersionForm(initial={"version": data.get("version", "")})
        return cls(head, _unbound(lines[:MOST_STEPS]), at if at >= 0 else None)

    @property
    def lanes(self) -> list[str]:
        """The parties named so far, to choose from."""
        named = (str(form["lane"].value() or "").strip() for form in self.steps)
        return [name for name in dict.fromkeys(named) if name]

    @property
    def chart(self) -> Chart:
        """The chart as it stands in the form, as far as it can be drawn."""
        found = []
        for form in self.steps:
            value = {name: form[name].value() for name in NAMES}
            if value["lane"] and value["text"]:
                found.append(
                    StepDraft(
                        lane=_one_line(value["lane"]),
                        text=_one_line(value["text"]),
                        handed_over=_one_line(value["handed_over"]),
                        look_next=bool(value["look_next"]),
                        why=_one_line(value["why"]),
                    )
                )
        return Chart(tuple(found))

    def is_valid(self) -> bool:
        """Judge version and lines, so that every fault is named at once."""
        return all([self.head.is_valid(), self.steps.is_valid()])

    def drafts(self) -> list[StepDraft]:
        """Return the valid lines; those left blank are dropped."""
        return [form.draft() for form in self.steps if form.has_changed()]


def pasted(text: str) -> Lines:
    """Return one step a line of ``who; what happens; what is handed over``."""
    found = []
    for line in text.splitlines():
        parts = [part.strip() for part in line.replace("\t", ";").split(";")]
        if any(parts):
            lane, said, handed_over, *_ = [*parts, "", "", ""]
            found.append({"lane": lane, "text": said, "handed_over": handed_over})
    return found


def _unbound(lines: Lines) -> Any:
    return Steps(initial=[*lines, *({} for _ in range(SPARE))][:MOST_STEPS], prefix="steps")


def _lines(data: Mapping[str, str]) -> Lines:
    raw = data.get("steps-TOTAL_FORMS", "")
    total = int(raw) if raw.isascii() and raw.isdecimal() and len(raw) < 4 else 0
    found: Lines = [
        {name: data.get(f"steps-{n}-{name}", "") for name in NAMES}
        for n in range(min(total, MOST_STEPS + SPARE))
    ]
    # spare lines at the end come anew
    while found and not _said(found[-1]):
        found.pop()
    return found


def _one_line(value: Any) -> str:
    return " ".join(str(value or "").split())


def _said(line: Mapping[str, Any]) -> bool:
    return any(line.get(name) for name in NAMES)
