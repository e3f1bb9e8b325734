"""Which letters of the app a member gets."""

from __future__ import annotations

from typing import Any

from django import forms

from .models import LETTERS, Member


class WantedForm(forms.ModelForm):  # type: ignore[type-arg]
    """The letters that a member may switch on and off; a reader gets the review alone."""

    class Meta:
        model = Member
        fields = ("wants_digest", "wants_review", "wants_reminders", "wants_notes")
        labels = {
            "wants_digest": "Daily digest",
            "wants_review": "Weekly review",
            "wants_reminders": "Reminders of my sessions",
            "wants_notes": "Notes when money arrives or a lead returns",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        instance: Member = self.instance
        hour = f"{instance.team.digest_time():%H:%M}"
        told = {
            "wants_digest": f"On working days from {hour} on: what is late, due and ahead.",
            "wants_review": "Once a week: what became of the week before.",
            "wants_reminders": "A day before each session in whose crew you are.",
            "wants_notes": "As soon as somebody else records it.",
        }
        for name, words in told.items():
            self.fields[name].help_text = words
        for letter in set(LETTERS) - set(instance.may_get):
            del self.fields[f"wants_{letter}"]

    def keep(self) -> None:
        """Store the choices, and nothing else of the member."""
        self.instance.save(update_fields=list(self.fields))
