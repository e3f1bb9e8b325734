"""What every form carries: a key against double posts, a version against two pens."""

from __future__ import annotations

import hashlib
import uuid
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any, cast

from django import forms
from django.db import models
from django.http import QueryDict
from django.utils.choices import flatten_choices
from django.utils.formats import date_format
from django.utils.timezone import localtime

from .models import Member, Team, Versioned


class OnceForm(forms.Form):
    """A form that makes something new; ``submission`` tells a second post from a second wish."""

    submission = forms.UUIDField(widget=forms.HiddenInput, initial=uuid.uuid4)


def key_of(form: OnceForm, *, but: Collection[str] = ()) -> uuid.UUID:
    """Return the key of a valid form with what was typed and chosen in it.

    Whoever goes back to a form, changes it and posts it has a second wish: it is not to be lost.
    ``but`` names fields that say nothing of the wish.
    """
    words = hashlib.sha256()
    for name, values in sorted(cast(QueryDict, form.data).lists()):
        if name != "csrfmiddlewaretoken" and name not in but:
            words.update(repr((name, values)).encode())
    for name in sorted(form.files):
        for file in form.files.getlist(name):
            file.seek(0)
            words.update(repr((name, file.name, file.size)).encode())
            words.update(file.read())
            file.seek(0)
    return uuid.uuid5(form.cleaned_data["submission"], words.hexdigest())


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
        self.stored = self.as_stored(instance)
        super().__init__(*args, **kwargs)
        self.initial["version"] = instance.version
        for field in self.fields.values():
            field.show_hidden_initial = not isinstance(field, forms.FileField)
        self.fields["version"].show_hidden_initial = False
        if self.is_bound and hasattr(self.data, "getlist"):
            self._take(self.data.getlist("take"))

    def as_stored(self, row: Versioned) -> dict[str, Any]:
        """Return what this form's fields hold for ``row``, by their names."""
        return forms.model_to_dict(row)

    def _take(self, names: list[str]) -> None:
        data = self.data.copy()  # type: ignore[attr-defined]
        for name in names:
            if name in self.fields and name in self.stored:
                values = as_posted(self.fields[name], self.stored[name])
                data.setlist(self.add_prefix(name), values)
        self.data = data

    def reopen_on(self, current: Versioned) -> None:
        """Let the form, as typed, be saved over ``current``.

        What ``current`` says now counts as what the form was opened with.
        """
        data = self.data.copy()  # type: ignore[attr-defined]
        for name, value in self.as_stored(current).items():
            if name in self.fields and self.fields[name].show_hidden_initial:
                key = self.add_initial_prefix(name)
                data.setlist(key, as_posted(self.fields[name], value))
        data[self.add_prefix("version")] = str(current.version)
        data.setlist("take", [])
        self.data = data

    def current(self) -> Any:
        """Return the row as it is stored by now; ``None`` once somebody removed it."""
        return type(self.instance)._base_manager.filter(pk=self.instance.pk).first()

    def compares_wholly(self) -> bool:
        """Tell whether each field stands for something stored, so that a difference is seen."""
        return all(name == "version" or name in self.stored for name in self.fields)

    def differences(self, current: Versioned) -> list[Difference]:
        """Return the fields in which ``current``, as stored, differs from what was typed."""
        stored_now = self.as_stored(current)
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
    if isinstance(field, forms.BooleanField):
        return ["on"] if value else []
    if isinstance(field, forms.FileField):
        return [str(value)] if value else []
    if isinstance(value, Decimal):
        # 12500 typed and 12500.000 stored are one amount
        return [format(value.normalize(), "f")]
    written = field.widget.format_value(field.prepare_value(value))
    if isinstance(written, (list, tuple)):
        return sorted(str(part) for part in written if part not in (None, ""))
    return [] if written in (None, "") else [str(written)]


def shown(field: forms.Field, value: Any) -> str:
    """Return a stored value in the words of the form's field."""
    if isinstance(field, forms.BooleanField):
        return "yes" if value else "no"
    if isinstance(field, forms.FileField):
        return str(value) if value else "—"
    posted = as_posted(field, value)
    if isinstance(field, forms.ModelChoiceField):
        assert field.queryset is not None
        chosen = field.queryset.filter(pk__in=posted)
        return ", ".join(str(row) for row in chosen) or "—"
    if isinstance(field, forms.ChoiceField):
        choices: list[tuple[Any, Any]] = list(flatten_choices(cast(Any, field.choices)))
        return ", ".join(str(word) for key, word in choices if str(key) in posted) or "—"
    if isinstance(value, datetime):
        return date_format(localtime(value), "D j M Y, H:i")
    if isinstance(value, date):
        return date_format(value, "D j M Y")
    return "".join(posted) or "—"


def members_of(team: Team) -> models.QuerySet[Any]:
    """Return the choices for an owner or a crew: the team's members who write."""
    return Member.objects.for_team(team).who_write().with_user()
