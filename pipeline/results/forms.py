"""As of which day, and about which leads: both stand in the address."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from pipeline.leads.models import Source
from pipeline.results.filters import BANDS, BUDGETS, NOT_KNOWN, Filters
from pipeline.teams.models import Member, Role, Team
from pipeline.teams.money import MAX_DIGITS, PLACES
from sessions.models import Format

NAME, VERSION = "name:", "version:"


class AsOfForm(forms.Form):
    """One day, in the address; empty means today."""

    as_of = forms.DateField(
        label="As of",
        required=False,
        input_formats=["%Y-%m-%d"],
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": "“As of” is no day. Write it as 2026-03-31."},
    )


class FilterForm(AsOfForm):
    """The day, and what narrows the figures. Only owners may narrow them to one facilitator.

    Once valid, `filters()` is what was chosen.
    """

    format = forms.MultipleChoiceField(label="Formats", required=False)
    versions_apart = forms.BooleanField(label="Versions of a format apart", required=False)
    source = forms.MultipleChoiceField(label="Sources", required=False)
    owner = forms.ChoiceField(label="Owner of the lead", required=False)
    facilitator = forms.ChoiceField(required=False)
    attendees = forms.ChoiceField(
        label="People at the session",
        choices=[("", "any"), *((b.key, b.name) for b in BANDS), (NOT_KNOWN, "not known")],
        required=False,
    )
    budget = forms.ChoiceField(
        label="Budget at entry",
        choices=[("", "any"), *BUDGETS.items()],
        required=False,
    )
    budget_from = forms.DecimalField(
        label="Budget at entry from",
        min_value=Decimal(0),
        max_digits=MAX_DIGITS,
        decimal_places=PLACES,
        required=False,
        error_messages={"invalid": "“Budget at entry from” is no amount. Write it as 5000.00."},
    )
    year = forms.IntegerField(
        label="Year of the first session",
        min_value=1,
        max_value=9999,
        required=False,
        error_messages={"invalid": "“Year of the first session” is no year. Write it as 2026."},
    )

    def __init__(self, *args: Any, team: Team, member: Member, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.team = team
        self.names: dict[tuple[str, int], str] = {}
        self._offer_formats(list(Format.objects.for_team(team)))
        members = list(Member.objects.for_team(team).with_user())
        self._offer_sources(list(Source.objects.for_team(team)))
        self._offer("owner", members, none="nobody")
        if member.may(Role.OWNER):
            self._offer("facilitator", members)
        else:
            del self.fields["facilitator"]
        self.fields["budget_from"].help_text = f"In {team.currency}."

    def _offer(self, name: str, rows: list[Any], *, none: str = "not known") -> None:
        self.names.update({(name, row.pk): str(row) for row in rows})
        choices = [("", "any"), *((str(row.pk), str(row)) for row in rows), (NOT_KNOWN, none)]
        self._field(name).choices = choices

    def _offer_formats(self, formats: list[Format]) -> None:
        """Each name with all its versions, and below it each version where there are several."""
        versions: dict[str, list[Format]] = {}
        for one in formats:
            versions.setdefault(one.name, []).append(one)
            self.names["version", one.pk] = f"{one.name} (version {one.version} only)"
        choices: list[tuple[str, str]] = []
        for name, found in versions.items():
            choices.append((f"{NAME}{name}", name))
            if len(found) > 1:
                choices += [(f"{VERSION}{one.pk}", self.names["version", one.pk]) for one in found]
        self._field("format").choices = [*choices, (NOT_KNOWN, "not known")]

    def _offer_sources(self, sources: list[Source]) -> None:
        self.names.update({("source", one.pk): one.name for one in sources})
        choices = [(str(one.pk), one.name) for one in sources]
        self._field("source").choices = [*choices, (NOT_KNOWN, "not known")]

    def _field(self, name: str) -> forms.ChoiceField:
        field = self.fields[name]
        assert isinstance(field, forms.ChoiceField)
        return field

    def filters(self) -> Filters:
        """Return what was chosen; the form must be valid."""
        chosen = self.cleaned_data
        formats: list[str] = chosen["format"]
        return Filters(
            formats=tuple(
                None if one == NOT_KNOWN else one.removeprefix(NAME)
                for one in formats
                if not one.startswith(VERSION)
            ),
            versions=tuple(
                int(one.removeprefix(VERSION)) for one in formats if one.startswith(VERSION)
            ),
            sources=tuple(None if one == NOT_KNOWN else int(one) for one in chosen["source"]),
            owners=self._key("owner"),
            facilitators=self._key("facilitator"),
            attendees=chosen["attendees"],
            budget=chosen["budget"],
            budget_from=chosen["budget_from"],
            currency=self.team.currency,
            year=chosen["year"],
            versions_apart=chosen["versions_apart"],
            names=self.names,
        )

    def _key(self, name: str) -> tuple[int | None, ...]:
        chosen = self.cleaned_data.get(name)
        if not chosen:
            return ()
        return (None,) if chosen == NOT_KNOWN else (int(chosen),)
