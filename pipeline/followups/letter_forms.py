"""Forms of letters to leads, and of whether letters may go to somebody."""

from __future__ import annotations

from typing import Any, ClassVar

from django import forms

from pipeline.leads.fields import DayField, WordsField
from pipeline.leads.models import Contact, Lead
from pipeline.teams.forms import OnceForm, VersionedForm

from .models import FollowUp, How, LeadLetter

LONGEST = 20_000
TEXT = forms.Textarea(attrs={"rows": 14})
STAYS = "The words below stay as they are: mind the name in them."


class ToSomebody(forms.ModelChoiceField):  # type: ignore[type-arg]
    """One of the people at a lead who have an address."""

    def label_from_instance(self, obj: Any) -> str:
        """Show the address beside the name."""
        return f"{obj.name}, {obj.email}" if obj.name else str(obj.email)


def reachable(lead: Lead) -> Any:
    """Return the people at a lead to whom a letter can go."""
    return Contact.objects.filter(lead=lead).exclude(email="").order_by("name", "pk")


class NewLetterForm(OnceForm):
    """A letter that is drafted."""

    contact = ToSomebody(
        label="To", queryset=Contact.objects.none(), empty_label="choose somebody", help_text=STAYS
    )
    subject = forms.CharField(max_length=200)
    text = WordsField(label="Letter", max_length=LONGEST, widget=TEXT)
    follow_up = forms.ModelChoiceField(
        FollowUp.objects.none(), required=False, widget=forms.HiddenInput
    )

    def __init__(self, *args: Any, lead: Lead, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices: dict[str, Any] = self.fields
        choices["contact"].queryset = reachable(lead)
        choices["follow_up"].queryset = FollowUp.objects.filter(lead=lead)


class LetterForm(VersionedForm):
    """A draft that is changed."""

    contact = ToSomebody(
        label="To", queryset=Contact.objects.none(), empty_label="choose somebody", help_text=STAYS
    )
    text = WordsField(label="Letter", max_length=LONGEST, widget=TEXT)

    class Meta:
        model = LeadLetter
        fields: ClassVar = ["contact", "subject", "text"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices: dict[str, Any] = self.fields
        choices["contact"].queryset = reachable(self.instance.lead)


class SendLetterForm(OnceForm):
    """The question before a letter goes out; ``version``: the draft that was read."""

    version = forms.IntegerField(widget=forms.HiddenInput, min_value=1)
    done = forms.BooleanField(label="Mark the follow-up done", required=False)

    def __init__(self, *args: Any, follow_up: FollowUp | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if follow_up is None:
            del self.fields["done"]
        else:
            self.fields["done"].help_text = f"“{follow_up}”"


class ConsentForm(OnceForm):
    """When and how somebody agreed to letters again."""

    day = DayField(label="On which day they agreed")
    words = WordsField(
        label="Why letters may go to them again",
        help_text="What they said and where, or what was wrong with the note. "
        "It stays in the lead's history.",
        max_length=2000,
    )


class AgreedForm(OnceForm):
    """When and how somebody agreed to letters, and to what."""

    day = DayField(label="On which day they agreed")
    how = forms.ChoiceField(choices=[("", "choose"), *How.choices])
    words = WordsField(
        label="The wording to which they agreed",
        help_text="As it was put to them, or as they put it.",
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 4}),
    )


class WithdrawnForm(OnceForm):
    """When somebody took an agreement back."""

    day = DayField(label="On which day they took it back")
