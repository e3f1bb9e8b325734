"""Hand in a sheet; answer for old deliverables."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from pipeline.teams.forms import OnceForm

from .models import Sheet
from .reading import LARGEST, MOST_ROWS, Table, Unreadable, read

SPLIT = (
    "Split it: the first line goes on top of each part, and rows of one lead_ref may stand in "
    "several parts. The command import_leads takes it as it is."
)


class SheetForm(OnceForm):
    """A CSV file; after validation ``content`` and ``table`` hold what was read."""

    file = forms.FileField(
        label="CSV file",
        widget=forms.FileInput(attrs={"accept": ".csv,.tsv,.txt,text/csv"}),
        help_text=f"UTF-8, at most {LARGEST // 1024 // 1024} MB and {MOST_ROWS} rows. Nothing is "
        "stored as a lead before you have seen what would happen.",
        error_messages={
            "required": "Choose the CSV file.",
            "empty": "The file is empty. Its first line must name the columns.",
        },
    )
    content: bytes
    table: Table

    def clean_file(self) -> UploadedFile:
        """Read the file; one that is no sheet is refused with what would be right."""
        file: UploadedFile = self.cleaned_data["file"]
        if (file.size or 0) > LARGEST:
            raise forms.ValidationError(
                f"The file has {(file.size or 0) / 1024 / 1024:.1f} MB; at most "
                f"{LARGEST // 1024 // 1024} MB can be handed in here. {SPLIT}"
            )
        self.content = file.read()
        try:
            self.table = read(self.content)
        except Unreadable as unreadable:
            raise forms.ValidationError(str(unreadable)) from None
        if len(self.table.rows) > MOST_ROWS:
            raise forms.ValidationError(
                f"The file has {len(self.table.rows)} rows; at most {MOST_ROWS} can be handed in "
                f"here. {SPLIT}"
            )
        return file

    @property
    def name(self) -> str:
        """What the file was called; shown, never used as a path."""
        limit: int = Sheet._meta.get_field("name").max_length or 200
        return (self.cleaned_data["file"].name or "sheet.csv")[:limit]


class UnsentForm(forms.Form):
    """One answer to all old deliverables that a sheet brought unsent."""

    answer = forms.ChoiceField(
        label="What shall become of them?",
        choices=[
            ("keep", "They are still owed, and will be sent"),
            ("waive", "They will not be sent any more"),
        ],
        widget=forms.RadioSelect,
        error_messages={"required": "Choose one of the two."},
    )
    reason = forms.CharField(
        label="Why they are waived",
        required=False,
        help_text="Needed where they will not be sent; it is kept with each.",
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    # The highest key that was shown: what came in since is not answered for.
    up_to = forms.IntegerField(widget=forms.HiddenInput, min_value=0, max_value=2**63 - 1)

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        if values.get("answer") == "waive" and not values.get("reason", "").strip():
            self.add_error("reason", "Say why they will not be sent.")
        return values
