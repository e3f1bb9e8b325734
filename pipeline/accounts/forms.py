"""The forms of accounts: whoever guesses is slowed, and what was typed is kept."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth.forms import AuthenticationForm, SetPasswordForm

from pipeline.clock import moment
from pipeline.teams.forms import OnceForm
from pipeline.teams.models import Role, User

from .slowing import Slowed, Who, admit, caller, forget, take_back

PASSWORD = {"autocomplete": "current-password"}
CODE = {"autocomplete": "one-time-code", "autocapitalize": "none", "spellcheck": "false"}


class SignInForm(AuthenticationForm):
    """Address and password."""

    # How long to wait, once there were too many attempts.
    slowed: Slowed | None = None

    def clean(self) -> dict[str, Any]:
        """Judge the password, unless too many were judged already."""
        email, now = self.cleaned_data.get("username"), moment.now()
        if not email or not self.cleaned_data.get("password"):
            return self.cleaned_data
        assert self.request is not None
        account, address = Who("account", email), Who("address", caller(self.request))
        try:
            admit([account, address], now=now)
        except Slowed as slowed:
            self.slowed = slowed
            raise forms.ValidationError(str(slowed)) from None
        cleaned: dict[str, Any] = super().clean()
        forget(account)
        take_back(address, now=now)
        return cleaned


class CodeForm(forms.Form):
    """The second factor."""

    code = forms.CharField(
        max_length=60,
        widget=forms.TextInput(attrs={**CODE, "autofocus": True}),
        help_text="Six digits from your app; or one of your recovery codes, which counts once.",
    )


def _judged(user: User, password: str) -> str:
    """Return the password if it is the person's; guessing is slowed here too."""
    who = Who("password", str(user.pk))
    try:
        admit([who], now=moment.now())
    except Slowed as slowed:
        raise forms.ValidationError(str(slowed)) from None
    if not user.check_password(password):
        raise forms.ValidationError("That is not your password.")
    forget(who)
    return password


class SureForm(forms.Form):
    """Whatever changes an account is done by whoever knows its password."""

    password = forms.CharField(
        label="Your password", strip=False, widget=forms.PasswordInput(attrs=PASSWORD)
    )

    def __init__(self, user: User, *args: Any, **kwargs: Any) -> None:
        self.user = user
        super().__init__(*args, **kwargs)

    def clean_password(self) -> str:
        """Judge the password."""
        return _judged(self.user, self.cleaned_data["password"])


class SetUpForm(SureForm):
    """The first code of a second factor; the secret travels along, locked."""

    field_order = ("sealed", "code", "password")
    sealed = forms.CharField(widget=forms.HiddenInput)
    code = forms.CharField(
        max_length=20,
        label="The code that your app shows",
        widget=forms.TextInput(attrs={**CODE, "inputmode": "numeric"}),
    )


class AddressForm(SureForm):
    """Another address."""

    field_order = ("email", "password")
    email = forms.EmailField(
        label="New e-mail",
        max_length=254,
        widget=forms.EmailInput(attrs={"autocomplete": "email"}),
    )


class NewPasswordForm(SetPasswordForm):  # type: ignore[type-arg]
    """Another password."""

    field_order = ("password", "new_password1", "new_password2")
    password = forms.CharField(
        label="Your password", strip=False, widget=forms.PasswordInput(attrs=PASSWORD)
    )

    def clean_password(self) -> str:
        """Judge the password that was."""
        return _judged(self.user, self.cleaned_data["password"])


class NameForm(forms.Form):
    """One's name; ``was`` is what it was when the page was opened."""

    name = forms.CharField(
        max_length=120, required=False, widget=forms.TextInput(attrs={"autocomplete": "name"})
    )
    was = forms.CharField(max_length=120, required=False, widget=forms.HiddenInput)


class ForgottenForm(forms.Form):
    """Whose password is forgotten."""

    email = forms.EmailField(
        label="E-mail",
        max_length=254,
        widget=forms.EmailInput(attrs={"autocomplete": "username"}),
    )


class NewcomerForm(SetPasswordForm):  # type: ignore[type-arg]
    """Name and password of somebody who had no account."""

    field_order = ("name", "new_password1", "new_password2")
    name = forms.CharField(
        label="Your name",
        max_length=120,
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
    )


class AskForm(OnceForm):
    """Whom to ask in."""

    email = forms.EmailField(label="E-mail", max_length=254)
    name = forms.CharField(max_length=120, required=False)
    role = forms.ChoiceField(
        choices=Role.choices,
        initial=Role.MEMBER,
        help_text="A reader reads, a member writes, an owner also runs the team.",
    )
