"""Which letters of the app a member gets."""

from __future__ import annotations

from typing import Any

from django import forms

from .models import LETTERS, Member


class WantedForm(forms.Form):
    """The letters that a member may switch on and off, ticked where they are wanted."""

    letters = forms.MultipleChoiceField(
        required=False, widget=forms.CheckboxSelectMultiple, label="Letters"
    )

    def __init__(self, *args: Any, member: Member, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial = {"letters": member.gets}
        self.member = member
        hour = f"{member.team.digest_time():%H:%M}"
        words = {
            "digest": f"digest, on working days from {hour} on: what is late, due and ahead",
            "review": "review, once a week: what became of the week before",
            "reminders": "reminders, a day before each session in whose crew I am",
            "notes": (
                "notes, as soon as somebody enquires by your public page, or somebody else "
                "records that money or a lead came back"
            ),
        }
        choices = [(letter, words[letter]) for letter in LETTERS if letter in member.may_get]
        self.fields["letters"].choices = choices  # type: ignore[attr-defined]

    def keep(self) -> None:
        """Store the choice, about the letters that were shown and nothing else of the member."""
        fields = [f"wants_{letter}" for letter in self.member.may_get]
        for letter in self.member.may_get:
            setattr(self.member, f"wants_{letter}", letter in self.cleaned_data["letters"])
        self.member.save(update_fields=fields)
