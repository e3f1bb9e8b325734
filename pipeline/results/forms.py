"""As of which day."""

from django import forms


class AsOfForm(forms.Form):
    """One day, in the address; empty means today."""

    as_of = forms.DateField(
        label="As of",
        required=False,
        input_formats=["%Y-%m-%d"],
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": "“As of” is no day. Write it as 2026-03-31."},
    )
