"""Forms of what is written down after the hour."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.validators import validate_email

from pipeline.leads.models import Contact
from pipeline.teams.forms import OnceForm, VersionedForm
from pipeline.teams.models import Versioned
from sessions.models import AfterHour, Budget, DiscoverySession, State, WriteUp

MOST_ADDRESSES = 20


class AfterHourForm(VersionedForm):
    """The short form after the hour; for the team, never for the lead."""

    state = forms.ChoiceField(
        label="Did they come?",
        widget=forms.RadioSelect,
        choices=[(State.HELD, "they came"), (State.MISSED, "nobody came")],
        error_messages={"required": "Say whether they came."},
    )
    attendee_count = forms.IntegerField(
        label="People who came", required=False, min_value=0, max_value=500
    )
    budget = forms.ChoiceField(
        widget=forms.RadioSelect, required=False, choices=[("", "not said"), *Budget.choices]
    )

    field_order = ["state", "attendee_count", "decides", "budget", "asked_for"]

    class Meta:
        model = AfterHour
        fields = ("decides", "budget", "asked_for")
        widgets = {"asked_for": forms.Textarea(attrs={"rows": 4})}
        help_texts = {"decides": "The people or the body, and by when."}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("state", "attendee_count"):
            self.initial[name] = self.stored[name]

    def as_stored(self, row: Versioned) -> dict[str, Any]:
        """Whether they came, and how many, stands with the session."""
        session: DiscoverySession = row.session  # type: ignore[attr-defined]
        marked = session.state if session.state in (State.HELD, State.MISSED) else ""
        told = {"state": marked, "attendee_count": session.attendee_count}
        return super().as_stored(row) | told


class WriteUpForm(VersionedForm):
    """What the lead gets back in the crew's own words."""

    class Meta:
        model = WriteUp
        fields = ("challenge", "goal", "opportunities", "next_steps")
        widgets = {
            "challenge": forms.Textarea(attrs={"rows": 2}),
            "goal": forms.Textarea(attrs={"rows": 3}),
            "opportunities": forms.Textarea(attrs={"rows": 5}),
            "next_steps": forms.Textarea(attrs={"rows": 5}),
        }
        help_texts = {
            "opportunities": "One a line. Notes that were reworded as a question come besides.",
            "next_steps": "One a line, in the order in which they come.",
        }

    def clean_challenge(self) -> str:
        """A sentence stands on one line."""
        return " ".join(self.cleaned_data["challenge"].split())


class SendForm(OnceForm):
    """To whom the takeaway goes, and with which words."""

    contacts: Any = forms.ModelMultipleChoiceField(
        queryset=None,
        required=False,
        label="To",
        widget=forms.CheckboxSelectMultiple,
        error_messages={"invalid_choice": "Choose people of this lead who have an address."},
    )
    others = forms.CharField(
        label="And to",
        required=False,
        max_length=1000,
        help_text="Other addresses, with commas between them.",
    )
    subject = forms.CharField(max_length=200)
    words = forms.CharField(
        label="Letter",
        max_length=5000,
        widget=forms.Textarea(attrs={"rows": 8}),
        help_text="The link to the takeaway and your name follow below it.",
    )
    # How many sendings were shown when this form was opened.
    seen = forms.IntegerField(widget=forms.HiddenInput, min_value=0)

    def __init__(self, *args: Any, session: DiscoverySession, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        chosen: Any = self.fields["contacts"]
        chosen.queryset = Contact.objects.filter(lead=session.lead_id).exclude(email="")

    def clean_others(self) -> list[str]:
        """Return the addresses, each a whole one."""
        typed = self.cleaned_data["others"].replace(";", ",").split(",")
        addresses = [part.strip() for part in typed if part.strip()]
        for address in addresses:
            try:
                validate_email(address)
            except forms.ValidationError:
                raise forms.ValidationError(
                    f"“{address}” is no address such as name@lead.example."
                ) from None
        return addresses

    def clean(self) -> dict[str, Any]:
        """Gather all addresses, each once."""
        data = super().clean() or self.cleaned_data
        chosen = [contact.email for contact in data.get("contacts") or ()]
        unique: dict[str, str] = {}
        for address in (*chosen, *(data.get("others") or ())):
            unique.setdefault(address.casefold(), address)
        data["to"] = list(unique.values())
        if not data["to"] and "others" in data and "contacts" in data:
            self.add_error("contacts", "Choose at least one person, or give an address below.")
        if len(data["to"]) > MOST_ADDRESSES:
            self.add_error("others", f"Up to {MOST_ADDRESSES} addresses; they can pass it on.")
        return data


class MonthForm(OnceForm):
    """Which month's takeaways are set."""

    month = forms.DateField(
        input_formats=["%Y-%m"],
        widget=forms.DateInput(attrs={"type": "month"}, format="%Y-%m"),
        error_messages={"invalid": "Give a month, such as 2026-03."},
    )
