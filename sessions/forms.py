"""Forms for sessions."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Sequence
from datetime import datetime
from typing import Any

from django import forms
from django.core.validators import MaxValueValidator, URLValidator
from django.db.models import Q

from pipeline.leads.models import Contact, Lead
from pipeline.teams.forms import OnceForm, VersionedForm, members_of
from pipeline.teams.models import Member, Team, Versioned
from pipeline.teams.refused import Refused

from .hours import LocalMoment
from .models import CrewPlace, DiscoverySession, Format, Part
from .models.format import LONGEST

# Of people at a session, and of minutes spent on it.
MOST = 10_000

CREW_FIELDS = {
    Part.FACILITATOR: "facilitator",
    Part.NOTE_TAKER: "note_taker",
    Part.SUPPORT: "supports",
}


class Accept(forms.CheckboxInput):
    """A box whose value names the warnings that it accepts."""

    def __init__(self, accepts: str) -> None:
        super().__init__(attrs={"value": accepts}, check_test=lambda value: value == accepts)


class Several(forms.ModelMultipleChoiceField):  # type: ignore[type-arg]
    """Some of a few rows, to be ticked."""

    widget = forms.CheckboxSelectMultiple

    def clean(self, value: Any) -> Any:
        """Refuse keys that no database could hold before one is asked for them."""
        for key in value or ():
            if not (str(key).isascii() and str(key).isdecimal() and len(str(key)) < 19):
                raise forms.ValidationError(
                    self.error_messages["invalid_choice"], "invalid_choice", {"value": key}
                )
        return super().clean(value)


def who_may(team: Team, already: Collection[int]) -> Any:
    """Return the members who write and those ``already`` there, who may have left since."""
    writing = Q(pk__in=members_of(team).order_by().values("pk"))
    return Member.objects.for_team(team).filter(writing | Q(pk__in=already)).with_user()


class Crewed(forms.Form):
    """Who of the team runs the session, and the box for "all the same" after a warning."""

    facilitator = forms.ModelChoiceField(Member.objects.none(), empty_label="choose a member")
    note_taker = forms.ModelChoiceField(
        Member.objects.none(), label="Note-taker", required=False, empty_label="nobody"
    )
    supports = Several(Member.objects.none(), label="Also there in support", required=False)
    all_the_same = forms.CharField(
        label="Book it all the same", required=False, widget=forms.HiddenInput
    )

    def offer_members(self, team: Team, already: Collection[int] = ()) -> None:
        """Let the team's members who write be chosen, and those who are in the crew already."""
        for name in CREW_FIELDS.values():
            self.fields[name].queryset = who_may(team, already)  # type: ignore[attr-defined]

    def crew(self) -> dict[str, list[Member]]:
        """Return the crew as typed: part, members."""
        data = self.cleaned_data
        return {
            Part.FACILITATOR: [data["facilitator"]] if data["facilitator"] else [],
            Part.NOTE_TAKER: [data["note_taker"]] if data["note_taker"] else [],
            Part.SUPPORT: list(data["supports"]),
        }

    def accept(self, warnings: Sequence[str]) -> None:
        """Go on if there are no warnings, or if just these were accepted; else ask.

        A box that was ticked for other warnings counts for nothing.
        """
        if not warnings:
            return
        name = hashlib.sha256("\n".join(warnings).encode()).hexdigest()[:16]
        field = self.fields["all_the_same"]
        field.widget, field.required = Accept(name), True
        if self.cleaned_data["all_the_same"] != name:
            raise Refused("Read the warning above; tick this to go on.", "all_the_same")


class Attended(forms.Form):
    """Which people of the lead take part."""

    attendees = Several(Contact.objects.none(), label="People of the lead", required=False)

    def offer_contacts(self, lead: Lead, *, already: DiscoverySession | None = None) -> None:
        """Let the lead's contacts be chosen; say so where there are none.

        Who was erased is offered no more, but stays in the session ``already`` attended.
        """
        contacts = Contact.objects.for_team(lead.team).filter(lead=lead).order_by("name", "pk")
        known = Q(erased_at=None)
        if already is not None:
            known |= Q(pk__in=already.attendees.values("pk"))
        contacts = contacts.filter(known)
        field: Any = self.fields["attendees"]
        field.queryset = contacts
        if not contacts.exists():
            field.help_text = f"{lead} has no contacts yet; add them on its page."


def page_beforehand() -> forms.URLField:
    """Return the field for the page that people are asked to open before a session."""
    return forms.URLField(
        label="Page to open beforehand",
        max_length=300,
        required=False,
        assume_scheme="https",
        validators=[URLValidator(schemes=["http", "https"])],
        help_text="Something to read or to try, for everybody who takes part.",
    )


class BookForm(OnceForm, Attended, Crewed):
    """A session to be booked."""

    format = forms.ModelChoiceField(Format.objects.none(), empty_label="choose a format")
    starts_at = LocalMoment(label="Starts")
    minutes = forms.IntegerField(
        required=False,
        min_value=1,
        max_value=LONGEST,
        help_text="Leave it blank for as long as the format takes.",
    )
    place = forms.CharField(label="Joining link or place", max_length=300, required=False)
    beforehand = page_beforehand()
    invite = forms.BooleanField(
        label="Invite all of them by letter, with an entry for their calendars",
        required=False,
        initial=True,
        help_text="Whoever is invited is told of every change and of a cancellation too.",
    )

    field_order = (
        "format",
        "starts_at",
        "minutes",
        "place",
        "beforehand",
        "facilitator",
        "note_taker",
        "supports",
        "attendees",
        "invite",
        "all_the_same",
    )

    def __init__(self, *args: Any, lead: Lead, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offer_members(lead.team)
        self.offer_contacts(lead)
        self.fields["format"].queryset = Format.objects.for_team(  # type: ignore[attr-defined]
            lead.team
        ).for_booking()
        self.fields["starts_at"].help_text = f"On the clock of {lead.team.timezone}."

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if data.get("minutes") is None and data.get("format") and "minutes" not in self.errors:
            data["minutes"] = data["format"].minutes
        return data


def limit_numbers(form: forms.BaseForm) -> None:
    """Keep people and minutes within what may be meant, whatever the database would take."""
    for name in ("attendee_count", "effort_before", "effort_during", "effort_after"):
        form.fields[name].validators.append(MaxValueValidator(MOST))
        form.fields[name].widget.attrs["max"] = MOST


class SessionForm(VersionedForm, Attended, Crewed):
    """What is known of a session."""

    starts_at = LocalMoment(label="Starts")
    beforehand = page_beforehand()

    class Meta:
        model = DiscoverySession
        fields = (
            "starts_at",
            "minutes",
            "place",
            "beforehand",
            "attendees",
            "attendee_count",
            "effort_before",
            "effort_during",
            "effort_after",
        )

    field_order = (
        "starts_at",
        "minutes",
        "place",
        "beforehand",
        "facilitator",
        "note_taker",
        "supports",
        "attendees",
        "attendee_count",
        "effort_before",
        "effort_during",
        "effort_after",
        "all_the_same",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        session: DiscoverySession = kwargs["instance"]
        kwargs["initial"] = self.as_stored(session)
        super().__init__(*args, **kwargs)
        self.offer_members(session.team, already=self.crew_before())
        self.offer_contacts(session.lead, already=session)
        self.fields["starts_at"].help_text = f"On the clock of {session.team.timezone}."
        # of a sheet only the day is known, and sometimes nobody who was there
        self.fields["starts_at"].required = session.starts_at is not None
        self.fields["facilitator"].required = bool(self.stored["facilitator"])
        self.fields["all_the_same"].show_hidden_initial = False
        limit_numbers(self)

    def as_stored(self, row: Versioned) -> dict[str, Any]:
        """Return what is stored of the session, its crew included."""
        places = CrewPlace.objects.filter(session=row.pk).values_list("part", "member")
        crew: dict[str, list[int]] = {part: [] for part in CREW_FIELDS}
        for part, member in places:
            crew[part].append(member)
        return super().as_stored(row) | {
            "facilitator": next(iter(crew[Part.FACILITATOR]), None),
            "note_taker": next(iter(crew[Part.NOTE_TAKER]), None),
            "supports": sorted(crew[Part.SUPPORT]),
        }

    def crew_before(self) -> set[int]:
        """Return who was in the crew when the form was opened."""
        stored = self.stored
        return {stored["facilitator"], stored["note_taker"], *stored["supports"]} - {None}

    def compares_wholly(self) -> bool:
        """Each field is stored, but for the box, which answers a warning."""
        return True

    def clean_starts_at(self) -> datetime | None:
        """Keep the stored moment where the clock shows what it showed: that hour came twice."""
        typed: datetime | None = self.cleaned_data["starts_at"]
        stored: datetime | None = self.stored["starts_at"]
        field = self.fields["starts_at"]
        if typed and stored and field.prepare_value(typed) == field.prepare_value(stored):
            return stored
        return typed


class HeldForm(VersionedForm):
    """What is noted when a session was held."""

    class Meta:
        model = DiscoverySession
        fields = ("attendee_count", "effort_before", "effort_during", "effort_after")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        limit_numbers(self)


class ReasonForm(forms.Form):
    """Why a session was missed or cancelled."""

    reason = forms.CharField(
        label="Why", required=False, widget=forms.Textarea(attrs={"rows": 3}), max_length=2000
    )
