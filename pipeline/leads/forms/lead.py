"""Forms to log a lead, shortly or in full, and to edit it."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import Q

from pipeline.leads.fields import AmountInput, CurrencyField, DayField, SuggestedField, WordsField
from pipeline.leads.models import Lead, Source
from pipeline.teams.forms import OnceForm, VersionedForm, members_of
from pipeline.teams.models import Member, Team, Versioned


class Core(forms.Form):
    """What every form of a lead asks."""

    organisation = forms.CharField(max_length=200)
    source = SuggestedField(
        max_length=80,
        required=False,
        help_text="How they came to you: one of the known ones, or a new one.",
    )
    enquired_on = DayField(label="Day of the enquiry", required=False)

    def prepare(self, team: Team) -> None:
        """Offer the team's own choices."""
        field = self.fields["source"]
        assert isinstance(field, SuggestedField)
        field.suggest(Source.objects.for_team(team).values_list("name", flat=True))


class More(forms.Form):
    """What may be told later."""

    owner = forms.ModelChoiceField(
        Member.objects.none(), required=False, empty_label="nobody", help_text="Looks after it."
    )
    reference = forms.CharField(
        max_length=200, required=False, help_text="Your own number or name for this lead."
    )
    budget_at_entry = AmountInput(
        required=False, help_text="Nothing: not known. 0: they said that there is none."
    )
    expected_fee = AmountInput(required=False)
    currency = CurrencyField(required=False)
    followed_since = DayField(
        required=False,
        help_text="Only if you know of this lead's course since that day and of nothing before.",
    )
    note = WordsField(required=False)


class ShortEntry(OnceForm, Core):
    """An organisation and one person: enough to log a lead."""

    contact_name = forms.CharField(label="Contact's name", max_length=120, required=False)
    contact_email = forms.EmailField(label="Contact's e-mail", max_length=254, required=False)
    field_order: tuple[str, ...] = (
        "organisation",
        "contact_name",
        "contact_email",
        "source",
        "enquired_on",
    )

    def __init__(self, *args: Any, team: Team, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.prepare(team)

    def fields_of_lead(self) -> dict[str, Any]:
        """Return what was typed, by the names that ``log_lead`` takes."""
        return {name: v for name, v in self.cleaned_data.items() if name != "submission"}


class FullEntry(ShortEntry, More):
    """All there is to say about a lead."""

    field_order = (*ShortEntry.field_order, "owner")

    def __init__(self, *args: Any, team: Team, **kwargs: Any) -> None:
        super().__init__(*args, team=team, **kwargs)
        choices = self.fields["owner"]
        assert isinstance(choices, forms.ModelChoiceField)
        choices.queryset = members_of(team)
        self.fields["reference"].help_text += " Left empty, it gets one."

    def fields_of_lead(self) -> dict[str, Any]:
        """Return what was typed; an empty reference is left to the lead."""
        fields = super().fields_of_lead()
        if not fields["reference"]:
            del fields["reference"]
        return fields


class LeadForm(Core, More, VersionedForm):
    """Edit a lead."""

    field_order = ("organisation", "source", "enquired_on", "owner")

    class Meta:
        model = Lead
        # the source is named in words; the service finds or makes it
        fields = (
            "organisation",
            "reference",
            "owner",
            "enquired_on",
            "budget_at_entry",
            "expected_fee",
            "currency",
            "followed_since",
            "note",
        )

    def __init__(self, *args: Any, team: Team, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.prepare(team)
        self.initial["source"] = self.stored["source"]
        self.fields["reference"].required = True
        choices = self.fields["owner"]
        assert isinstance(choices, forms.ModelChoiceField)
        # whoever has it now stays a choice, though a reader by now
        may_have_it = members_of(team).values("pk")
        choices.queryset = (
            Member.objects.for_team(team)
            .filter(Q(pk__in=may_have_it) | Q(pk=self.stored["owner"]))
            .with_user()
        )

    def as_stored(self, row: Versioned) -> dict[str, Any]:
        """Return the stored values, the source by its name."""
        assert isinstance(row, Lead)
        return {**super().as_stored(row), "source": row.source.name if row.source else ""}
