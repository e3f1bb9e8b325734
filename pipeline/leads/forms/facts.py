"""Forms of the dated facts about a lead, and of its people: a new one, and an edit."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from pipeline.clock.zones import zone_names
from pipeline.leads.fields import (
    AmountInput,
    CurrencyField,
    DayField,
    MonthField,
    MonthOrDay,
    SuggestedField,
    WordsField,
)
from pipeline.leads.models import (
    Channel,
    Contact,
    Decision,
    DecisionKind,
    Funding,
    LogEntry,
    Proposal,
)
from pipeline.leads.rules import fits
from pipeline.teams.forms import OnceForm, VersionedForm
from pipeline.teams.models import Versioned
from pipeline.teams.refused import Refused


class NewFact(OnceForm):
    """A fact that is new."""

    def fact(self) -> dict[str, Any]:
        """Return what was typed, by the names that the service takes."""
        return {name: v for name, v in self.cleaned_data.items() if name != "submission"}


class FactForm(VersionedForm):
    """A fact that is corrected."""


class DecisionFields(forms.Form):
    """What is asked of a decision."""

    kind = forms.ChoiceField(
        label="Decision", choices=DecisionKind.choices, widget=forms.RadioSelect
    )
    day = DayField()
    reason = WordsField(required=False)
    fee = AmountInput(required=False, help_text="Of “engaged”.")
    currency = CurrencyField(required=False)
    funding_expected_on = MonthField(
        label="Money expected",
        required=False,
        help_text="Of “no budget yet”: a month such as 2026-09, or a day.",
    )
    funding_from = forms.CharField(
        label="Money from",
        max_length=200,
        required=False,
        help_text="Of “no budget yet”: a grant, next year's budget, a sale.",
    )

    def clean(self) -> dict[str, Any]:
        """Refuse here already what the service would, before the row's own rules are asked."""
        super().clean()
        typed = self.cleaned_data
        expected: MonthOrDay | None = typed.get("funding_expected_on")
        try:
            if "kind" in typed:
                fits(
                    typed["kind"],
                    fee=typed.get("fee"),
                    expected_on=expected.day if expected else None,
                    expected_from=typed.get("funding_from", ""),
                )
        except Refused as refused:
            self.add_error(refused.field, str(refused))
        return typed


class NewDecision(NewFact, DecisionFields):
    """A new decision."""

    def fact(self) -> dict[str, Any]:
        """Return what was typed; the month apart in its day and whether a month is meant."""
        return {**super().fact(), **_expected(self.cleaned_data)}


class DecisionForm(DecisionFields, FactForm):
    """Correct a decision."""

    class Meta:
        model = Decision
        fields = ("kind", "day", "reason", "fee", "currency", "funding_from")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial["funding_expected_on"] = self.stored["funding_expected_on"]

    def as_stored(self, row: Versioned) -> dict[str, Any]:
        """Return the stored values, a month as a month."""
        assert isinstance(row, Decision)
        day = row.funding_expected_on
        expected = MonthOrDay(day, row.expected_by_month) if day else None
        return {**super().as_stored(row), "funding_expected_on": expected}

    def clean(self) -> dict[str, Any]:
        """Hand the month on to the row."""
        super().clean()
        for name, value in _expected(self.cleaned_data).items():
            setattr(self.instance, name, value)
        return self.cleaned_data


def _expected(cleaned: dict[str, Any]) -> dict[str, Any]:
    expected: MonthOrDay | None = cleaned.get("funding_expected_on")
    return {
        "funding_expected_on": expected.day if expected else None,
        "expected_by_month": expected.by_month if expected else True,
    }


class ProposalFields(forms.Form):
    """What is asked of a proposal."""

    sent_on = DayField(label="Day sent")
    fee = AmountInput(required=False)
    currency = CurrencyField(required=False)
    note = WordsField(required=False)


class NewProposal(NewFact, ProposalFields):
    """A new proposal."""


class ProposalForm(ProposalFields, FactForm):
    """Correct a proposal."""

    class Meta:
        model = Proposal
        fields = ("sent_on", "fee", "currency", "note")


class FundingFields(forms.Form):
    """What is asked of funding."""

    arrived_on = DayField(label="Day it arrived")
    note = WordsField(required=False)


class NewFunding(NewFact, FundingFields):
    """New funding."""


class FundingForm(FundingFields, FactForm):
    """Correct funding."""

    class Meta:
        model = Funding
        fields = ("arrived_on", "note")


class ConversationFields(forms.Form):
    """What is asked of a conversation."""

    day = DayField()
    channel = forms.ChoiceField(choices=Channel.choices, widget=forms.RadioSelect)
    who = forms.CharField(label="Spoke with", max_length=120, required=False)
    gist = WordsField()


class NewConversation(NewFact, ConversationFields):
    """A new conversation."""


class ConversationForm(ConversationFields, FactForm):
    """Correct a conversation."""

    class Meta:
        model = LogEntry
        fields = ("day", "channel", "who", "gist")


class ContactFields(forms.Form):
    """What is asked of a person at a lead."""

    name = forms.CharField(max_length=120, required=False)
    email = forms.EmailField(label="E-mail", max_length=254, required=False)
    role = forms.CharField(max_length=120, required=False, help_text="What they do there.")
    timezone = SuggestedField(
        label="Time zone",
        max_length=64,
        required=False,
        help_text="Where it is not yours, such as Europe/Lisbon.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        zones = self.fields["timezone"]
        assert isinstance(zones, SuggestedField)
        zones.suggest(zone_names())

    def clean_timezone(self) -> str:
        """Refuse a zone that nobody knows."""
        zone: str = self.cleaned_data["timezone"]
        if zone and zone not in zone_names():
            raise ValidationError("Name a time zone such as Europe/Lisbon.")
        return zone


class NewContact(NewFact, ContactFields):
    """A new person."""


class ContactForm(ContactFields, FactForm):
    """Correct a person."""

    class Meta:
        model = Contact
        fields = ("name", "email", "role", "timezone")
