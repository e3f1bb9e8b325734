"""One's own account: name, address, password, second factor, and where one is signed in."""

from __future__ import annotations

from typing import Any, cast

from django import forms
from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from pipeline.clock import moment
from pipeline.locks.asking import as_user
from pipeline.teams.models import Member, User
from pipeline.teams.refused import Refused

from . import changing
from .browsers import end_others, places
from .forms import AddressForm, NameForm, NewPasswordForm
from .letters import tell


def person(request: HttpRequest) -> User:
    """Return who is signed in."""
    return cast(User, request.user)


@never_cache
@require_safe
def account(request: HttpRequest) -> HttpResponse:
    """Show one's account."""
    user = person(request)
    return render(request, "accounts/account.html", _shown(request, _name_form(user)))


def _name_form(user: User) -> NameForm:
    return NameForm(initial={"name": user.name, "was": user.name})


def _shown(request: HttpRequest, form: NameForm) -> dict[str, Any]:
    user = person(request)
    with as_user(user.pk):
        memberships = list(Member.objects.for_switching(user))
    return {
        "form": form,
        "memberships": memberships,
        "places": places(request, user, moment.now()),
        "codes_left": user.recovery_codes.filter(used_at=None).count(),
    }


@require_POST
def name(request: HttpRequest) -> HttpResponse:
    """Take another name."""
    user, form = person(request), NameForm(request.POST)
    if form.is_valid():
        try:
            changing.rename(user=user, **form.cleaned_data)
        except Refused as refused:
            form.add_error(refused.field, str(refused))
            stored = User.objects.values_list("name", flat=True).get(pk=user.pk)
            form.data = form.data.copy()  # type: ignore[attr-defined]
            form.data["was"] = stored  # type: ignore[index]
        else:
            messages.success(request, "Your name is saved.")
            return redirect("account")
    status = 409 if form.has_error("name") else 422
    return render(request, "accounts/account.html", _shown(request, form), status=status)


@sensitive_post_parameters()
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def address(request: HttpRequest) -> HttpResponse:
    """Ask for another address; it holds once a letter to it was answered."""
    user = person(request)
    form = AddressForm(user, request.POST if request.method == "POST" else None)
    if form.is_valid():
        email = form.cleaned_data["email"]
        try:
            if changing.ask_for_address(user=user, email=email, now=moment.now()):
                messages.success(request, f"You sign in as {user.email} now.")
            else:
                told = (
                    f"A letter with a link is on its way to {email}. Until then nothing changes."
                )
                messages.success(request, told)
        except Refused as refused:
            form.add_error(refused.field, str(refused))
        else:
            return redirect("account")
    return form_page(
        request,
        form,
        heading="Change my address",
        lede=f"You sign in as {user.email}.",
        button="Change the address",
    )


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def address_is_mine(request: HttpRequest, token: str) -> HttpResponse:
    """Let the new address hold. Opening the page alone changes nothing."""
    user, now = person(request), moment.now()
    email = changing.read_address(token, user=user, now=now)
    if email is None:
        return render(request, "accounts/address_over.html", status=410)
    if request.method != "POST":
        return render(request, "accounts/address_is_mine.html", {"email": email})
    try:
        changing.take_address(user=user, email=email, now=now)
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, f"You sign in as {email} now.")
    return redirect("account")


@sensitive_post_parameters()
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def password(request: HttpRequest) -> HttpResponse:
    """Take another password; every other browser is signed out."""
    user = person(request)
    form = NewPasswordForm(user, request.POST if request.method == "POST" else None)
    if form.is_valid():
        form.save()
        # this browser goes on, under another key
        update_session_auth_hash(request, user)
        end_others(request, user)
        tell(user, "a new password was set", now=moment.now())
        messages.success(request, "The new password holds. Other browsers are signed out.")
        return redirect("account")
    return form_page(
        request,
        form,
        heading="Change my password",
        lede="Your other browsers will be signed out.",
        button="Change the password",
    )


@require_POST
def end_elsewhere(request: HttpRequest) -> HttpResponse:
    """Sign out everywhere else."""
    ended = end_others(request, person(request))
    browsers = "1 other browser was" if ended == 1 else f"{ended} other browsers were"
    if ended:
        messages.success(request, f"{browsers} signed out.")
    else:
        messages.info(request, "No other browser was signed in.")
    return redirect("account")


def form_page(request: HttpRequest, form: forms.BaseForm, **context: Any) -> HttpResponse:
    """Show a form of the account."""
    told = {"form": form, "about": "Account", "back": reverse("account"), **context}
    status = 422 if form.is_bound else 200
    return render(request, "teams/form_page.html", told, status=status)
