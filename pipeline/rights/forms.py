"""Forms about people's data."""

from __future__ import annotations

from typing import Any

from django import forms

from pipeline.leads.fields import WordsField
from pipeline.leads.models import Contact
from pipeline.teams.forms import OnceForm, VersionedForm
from pipeline.teams.models import Team

from .gathering import same_address
from .words import Words

WHAT_FOR = "Such as: asked for by letter on 3 March. Kept for good, so name nobody."
# Shorter ones are found nearly everywhere.
SHORTEST = 3


class HandOutForm(OnceForm):
    """What a person's data is handed out for."""

    what_for = forms.CharField(label="What for", max_length=300, help_text=WHAT_FOR)


class SameAddress(forms.ModelMultipleChoiceField):  # type: ignore[type-arg]
    """People who have one address."""

    def label_from_instance(self, obj: Any) -> str:
        """Show at which lead each is."""
        return f"{obj}, at {obj.lead}"


class EraseForm(OnceForm):
    """The question before a person is erased."""

    others = SameAddress(
        Contact.objects.none(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        label="The same address: erase these too",
        help_text="Whoever you leave keeps the address, so what was sent to it stays as well.",
    )
    what_for = forms.CharField(label="What for", max_length=300, help_text=WHAT_FOR)
    confirm = forms.CharField(
        max_length=254, widget=forms.TextInput(attrs={"autocomplete": "off"})
    )

    def __init__(self, *args: Any, contact: Contact, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.contact = contact
        fields: dict[str, Any] = self.fields
        alike = same_address(contact)
        if alike:
            fields["others"].queryset = alike
            fields["others"].initial = [row.pk for row in alike]
        else:
            del fields["others"]
        fields["confirm"].label = f"To erase for good, type: {contact}"

    def clean_confirm(self) -> str:
        """Take the name in any case, and nothing else."""
        typed = " ".join(str(self.cleaned_data["confirm"]).split())
        if typed.casefold() != " ".join(str(self.contact).split()).casefold():
            raise forms.ValidationError(f"Type “{self.contact}” to say that you mean them.")
        return typed


class SearchForm(forms.Form):
    """What somebody is called."""

    words = WordsField(
        label="Names and addresses, one a line",
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text="Each is looked for as a whole, in any case. Try the first name alone too.",
    )

    def clean_words(self) -> Words:
        """Refuse what would be found nearly everywhere."""
        words = Words.of(str(self.cleaned_data["words"]).splitlines()[:20])
        short = [word for word in words.sought if len(word) < SHORTEST]
        if short:
            raise forms.ValidationError(f"“{short[0]}” is too short to look for; give 3 letters.")
        if not words:
            raise forms.ValidationError("Give a name or an address.")
        return words


class RetentionForm(VersionedForm):
    """After how many months people are to be erased."""

    retention_months = forms.IntegerField(
        label="Months",
        required=False,
        min_value=6,
        max_value=600,
        help_text="Since the last that was heard of their lead; 6 or more. "
        "Empty: people are kept until somebody erases them.",
    )

    class Meta:
        model = Team
        fields = ("retention_months",)


class EraseLapsedForm(OnceForm):
    """The button below the list; ``seen``: the list that was read."""

    seen = forms.CharField(max_length=64, widget=forms.HiddenInput)
    sure = forms.BooleanField(label="I have read the list. They are erased for good.")
