"""What every form carries: a key against double posts, a version against two pens."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from django import forms
from django.db import models
from django.forms.utils import from_current_timezone

from .models import Member, Team, Versioned


class OnceForm(forms.Form):
    """A form that makes something new; ``submission`` tells a second post from a second wish."""

    submission = forms.UUIDField(widget=forms.HiddenInput, initial=uuid.uuid4)


class VersionedForm(forms.ModelForm):  # type: ignore[type-arg]
    """A form that edits a row; the version it was opened with travels in ``version``.

    Each field also carries the value it was opened with, so that after a conflict the page knows
    what the person changed and what only somebody else did. The page offers each differing field
    as stored; fields named in ``take`` are read from the row instead of from what was typed.
    """

    version = forms.IntegerField(widget=forms.HiddenInput, min_value=1)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        instance: Versioned = kwargs["instance"]
        # kept before validation writes what was typed into the row
        self.stored: dict[str, Any] = forms.model_to_dict(instance)
        super().__init__(*args, **kwargs)
        self.initial["version"] = instance.version
        for field in self.fields.values():
            field.show_hidden_initial = not isinstance(field, forms.FileField)
        self.fields["version"].show_hidden_initial = False
        if self.is_bound and hasattr(self.data, "getlist"):
            self._take(self.data.getlist("take"))

    def _take(self, names: list[str]) -> None:
        data = self.data.copy()  # type: ignore[attr-defined]
        for name in names:
            if name in self.fields and name in self.stored:
                values = as_posted(self.fields[name], self.stored[name])
                data.setlist(self.add_prefix(name), values)
        self.data = data

    def reopen_at(self, version: int) -> None:
        """Let the form, as typed, be saved over ``version``."""
        data = self.data.copy()  # type: ignore[attr-defined]
        data[self.add_prefix("version")] = str(version)
        data.setlist("take", [])
        self.data = data

    def differences(self, current: Versioned) -> list[Difference]:
        """Return the fields in which ``current``, as stored, differs from what was typed."""
        stored_now = forms.model_to_dict(current)
        found = []
        for name, field in self.fields.items():
            if name not in stored_now or name == "version":
                continue
            typed, stored = self.cleaned_data.get(name), stored_now[name]
            if as_posted(field, typed) != as_posted(field, stored):
                found.append(
                    Difference(
                        name=name,
                        label=str(self[name].label),
                        typed=shown(field, typed),
                        stored=shown(field, stored),
                        untouched=name not in self.changed_data,
                    )
                )
        return found


@dataclass(frozen=True)
class Difference:
    """One field in which two versions differ; ``untouched``: only somebody else changed it."""

    name: str
    label: str
    typed: str
    stored: str
    untouched: bool


def as_posted(field: forms.Field, value: Any) -> list[str]:
    """Return a value as a browser would post it from ``field``; an empty list for nothing."""
    if isinstance(value, (models.QuerySet, list, tuple)):
        return sorted(str(getattr(v, "pk", v)) for v in value)
    if isinstance(field, forms.BooleanField):
        return ["on"] if value else []
    if value in (None, ""):
        return []
    if isinstance(value, Decimal):
        return [format(value.normalize(), "f")]
    if isinstance(value, datetime):
        value = from_current_timezone(value) if value.tzinfo is None else value
        return [value.isoformat()]
    return [str(getattr(value, "pk", value))]


def shown(field: forms.Field, value: Any) -> str:
    """Return a stored value in the words of the form's field."""
    if isinstance(field, forms.ModelMultipleChoiceField):
        keys = [getattr(v, "pk", v) for v in value or []]
        assert field.queryset is not None
        return ", ".join(str(o) for o in field.queryset.filter(pk__in=keys)) or "—"
    if isinstance(field, forms.ModelChoiceField):
        assert field.queryset is not None
        key = getattr(value, "pk", value)
        chosen = field.queryset.filter(pk=key).first() if key else None
        return str(chosen) if chosen else "—"
    if isinstance(field, forms.ChoiceField):
        words: dict[Any, Any] = dict(field.choices)  # type: ignore[arg-type]
        return str(words.get(value, value or "—"))
    return "—" if value in (None, "") else str(value)


def members_of(team: Team) -> models.QuerySet[Any]:
    """Return the choices for an owner or a crew: the team's members who write."""
    return Member.objects.for_team(team).who_write().with_user()
