"""The public form of an enquiry, and the form of its page's settings."""

from __future__ import annotations

import re
from datetime import datetime
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.http import QueryDict

from pipeline.leads.fields import WordsField
from pipeline.teams.forms import OnceForm, VersionedForm

from .models import EnquiryPage
from .stamp import Stamp, read_stamp

# Control characters but for tabs and line ends, and the marks that turn round the order in which
# all that follows is shown (Unicode Standard Annex #9, 2.1 to 2.4).
UNSEEN = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")
BREAKS = re.compile(r"[\t\n]")
LONGEST = 5000


def only_seen(value: str) -> None:
    """Refuse characters that nobody sees and that change how others are shown."""
    if UNSEEN.search(value):
        raise ValidationError(
            "There are characters in it that can’t be seen. Type it anew instead of pasting it."
        )


def one_line(value: str) -> None:
    """Refuse what does not fit on one line."""
    only_seen(BREAKS.sub("\x00", value))


class EnquiryForm(OnceForm):
    """What somebody outside the team writes; kept as typed whatever is wrong with it."""

    organisation = forms.CharField(
        max_length=200,
        validators=[one_line],
        widget=forms.TextInput(attrs={"autocomplete": "organization"}),
    )
    name = forms.CharField(
        label="Your name",
        max_length=120,
        validators=[one_line],
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
    )
    email = forms.EmailField(
        label="Your e-mail",
        max_length=254,
        validators=[one_line],
        widget=forms.EmailInput(attrs={"autocomplete": "email"}),
    )
    about = WordsField(
        label="What it is about",
        max_length=LONGEST,
        validators=[only_seen],
        widget=forms.Textarea(attrs={"rows": 7}),
    )
    agrees = forms.BooleanField(required=False)
    # Shown to nobody: only a program fills it in.
    website = forms.CharField(
        label="Leave this empty",
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "off", "tabindex": "-1"}),
    )
    stamp = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(self, data: QueryDict | None = None, *, page: EnquiryPage, now: datetime) -> None:
        super().__init__(data)
        self.now = now
        brought = read_stamp(data.get("stamp", "")) if data is not None else None
        if brought is not None and brought.team != page.team_id:
            brought = None
        self.outdated = data is not None and (brought is None or brought.is_old(now))
        fresh = Stamp(page.team_id, now, page.agreement)
        self.stamped = fresh if brought is None or self.outdated else brought
        self.initial["stamp"] = str(self.stamped)
        self.fields["agrees"].label = self.stamped.agreement
        if self.outdated:
            same_words = brought is not None and brought.agreement == fresh.agreement
            self._put(stamp=str(fresh), **({} if same_words else {"agrees": ""}))

    @property
    def agreed_to(self) -> str:
        """The words by which they agreed to letters; empty where they did not."""
        return self.stamped.agreement if self.cleaned_data["agrees"] else ""

    def clean_website(self) -> str:
        """Refuse a form that a program filled in, and empty the field for whoever did not see."""
        if self.cleaned_data["website"]:
            self._put(website="")
            self.add_error(
                None,
                "A field that is not shown was filled in, perhaps by a program that fills in "
                "forms for you. It is empty again: press the button once more.",
            )
        return ""

    def clean(self) -> dict[str, Any]:
        """Refuse a form that was opened only just now, or too long ago."""
        if self.outdated:
            self.add_error(
                None,
                "This page had been open for too long. What you typed is kept: look it over and "
                "press the button once more.",
            )
        elif not self.errors and self.stamped.is_quick(self.now):
            self.add_error(
                None,
                "That was quicker than people type. What you typed is kept: wait a moment and "
                "press the button once more.",
            )
        return self.cleaned_data

    def _put(self, **values: str) -> None:
        data = self.data.copy()  # type: ignore[attr-defined]
        for name, value in values.items():
            data[name] = value
        self.data = data


class EnquiryPageForm(VersionedForm):
    """Open or close the page, and word it."""

    is_open = forms.BooleanField(
        label="Open to everybody",
        required=False,
        help_text="Whoever has the address may write to you, without an account.",
    )
    introduction = WordsField(
        required=False,
        max_length=1000,
        validators=[only_seen],
        help_text="A few words above the form: whom you help, and what happens next.",
    )
    agreement = WordsField(
        label="Agreement to letters",
        required=False,
        max_length=500,
        validators=[only_seen],
        help_text=(
            "What the box says by which people agree that you write to them later, and that they "
            "may take it back. The words are kept with each tick. Empty: there is no box. Local "
            "law decides what they have to say."
        ),
    )

    class Meta:
        model = EnquiryPage
        fields = ("is_open", "introduction", "agreement")
