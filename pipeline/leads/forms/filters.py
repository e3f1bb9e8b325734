"""What the list of leads is narrowed to, and in which order it stands."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.db.models import Value
from django.db.models.expressions import F
from django.db.models.fields import DateField
from django.db.models.functions import Coalesce, Lower

from pipeline.leads.fields import DayField
from pipeline.leads.keyset import Order, instant, words
from pipeline.leads.models import Lead, LeadQuerySet, Source, Standing
from pipeline.leads.search import search
from pipeline.teams.models import Member, Team

# Says "where it has none" in a filter; keys are numbers.
NONE = "none"

ORDERS = {
    "longest": Order(
        words="longest in this standing first",
        # a day that is not known comes last
        key=Coalesce("standing_since", Value(date.max, DateField())),
        read=date.fromisoformat,
    ),
    "newest": Order(
        words="newest entry first", key=F("created_at"), read=instant, newest_first=True
    ),
    "name": Order(words="by organisation", key=Lower("organisation"), read=words),
}

Choices = list[tuple[str, str]]


class Filters(forms.Form):
    """Narrow the list. A field that cannot be read narrows nothing, and says so."""

    use_required_attribute = False

    q = forms.CharField(
        label="Search",
        max_length=200,
        required=False,
        widget=forms.TextInput(attrs={"type": "search"}),
        help_text="Words of the organisation, a person, an address; or a reference.",
    )
    standing = forms.ChoiceField(choices=[("", "any"), *Standing.choices], required=False)
    owner = forms.ChoiceField(required=False)
    source = forms.ChoiceField(required=False)
    format = forms.ChoiceField(label="First session held", required=False)
    since = DayField(label="Unchanged since", required=False)
    sort = forms.ChoiceField(
        label="Order", choices=[(name, o.words) for name, o in ORDERS.items()], required=False
    )

    def __init__(self, *args: Any, team: Team, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        members = Member.objects.for_team(team).with_user()
        formats: Any = Lead._meta.get_field("index_format").related_model
        self._offer("owner", members, none="nobody")
        self._offer("source", Source.objects.for_team(team), none="not known")
        self._offer("format", formats.objects.for_team(team), none="none, or not known")

    def _offer(self, name: str, rows: Any, *, none: str) -> None:
        field = self.fields[name]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [("", "any"), *((str(row.pk), str(row)) for row in rows), (NONE, none)]

    def narrow(self, leads: LeadQuerySet) -> LeadQuerySet:
        """Return those of ``leads`` that are asked for."""
        asked = self.asked()
        leads = search(leads, asked.pop("q", ""))
        columns = {"owner": "owner", "source": "source", "format": "index_format"}
        for name, value in asked.items():
            if name == "standing":
                leads = leads.filter(standing=value)
            elif name == "since":
                leads = leads.filter(standing_since__lte=value)
            else:
                leads = leads.filter(**{columns[name]: None if value == NONE else value})
        return leads

    def asked(self) -> dict[str, Any]:
        """Return what narrows the list, by field."""
        self.is_valid()
        return {name: v for name, v in self.cleaned_data.items() if v and name != "sort"}

    def order(self) -> Order:
        """Return the order asked for; by time unless said otherwise."""
        self.is_valid()
        return ORDERS[self.cleaned_data.get("sort") or "longest"]
