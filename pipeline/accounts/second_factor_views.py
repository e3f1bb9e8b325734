"""Setting up one's second factor, and taking it off."""

from __future__ import annotations

from datetime import timedelta

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from pipeline.clock import moment
from pipeline.teams.refused import Refused

from . import codes, second_factor
from .account_views import form_page, person
from .browsers import end_others
from .forms import SetUpForm, SureForm
from .letters import tell
from .tokens import seal, unseal

KIND = "set-up"
# So long the picture on a page may be taken in.
LASTS = timedelta(hours=1)


@sensitive_post_parameters()
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def set_up(request: HttpRequest) -> HttpResponse:
    """Show a new secret, and take it once its code was typed. Opening the page changes nothing."""
    user, now = person(request), moment.now()
    secret = _sealed_secret(request)
    form = SetUpForm(user, request.POST) if secret else None
    if form is not None and secret is not None and form.is_valid():
        replaced = bool(user.second_factor)
        try:
            papers = second_factor.set_up(
                user=user, secret=secret, typed=form.cleaned_data["code"], now=now
            )
        except Refused as refused:
            form.add_error(refused.field, str(refused))
        else:
            # what was open without it ends; this browser goes on, under another key
            request.session.cycle_key()
            end_others(request, user)
            tell(user, "a second factor was set up", now=now)
            return _show_codes(request, papers, replaced=replaced, is_new=True)
    if secret is None:
        if request.method == "POST":
            messages.error(request, "This page was too old. Take in the new picture below.")
        secret = codes.new_secret()
    if form is None:
        said = {"user": user.pk, "secret": codes.lock(secret)}
        form = SetUpForm(user, initial={"sealed": seal(KIND, said, until=now + LASTS)})
    address = codes.address_of(secret, user.email)
    context = {
        "form": form,
        "picture": codes.picture_of(address),
        "address": address,
        "secret": " ".join(secret[at : at + 4] for at in range(0, len(secret), 4)),
        "asking": second_factor.teams_that_ask(user),
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "accounts/second_factor.html", context, status=status)


def _sealed_secret(request: HttpRequest) -> str | None:
    """Return the secret that the page was made with; ``None`` for none, or another person's."""
    said = unseal(KIND, request.POST.get("sealed", ""), now=moment.now())
    if said is None or said["user"] != person(request).pk:
        return None
    return codes.unlock(said["secret"])


def _show_codes(
    request: HttpRequest, papers: list[str], *, is_new: bool, replaced: bool = False
) -> HttpResponse:
    context = {"codes": papers, "is_new": is_new, "replaced": replaced}
    return render(request, "accounts/recovery_codes.html", context)


@sensitive_post_parameters()
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def renew(request: HttpRequest) -> HttpResponse:
    """Make new recovery codes, and show them this once."""
    user = person(request)
    if not user.second_factor:
        return redirect("second-factor")
    form = SureForm(user, request.POST if request.method == "POST" else None)
    if form.is_valid():
        papers = second_factor.renew_codes(user=user)
        tell(user, "new recovery codes were made", now=moment.now())
        return _show_codes(request, papers, is_new=False)
    return form_page(
        request,
        form,
        heading="New recovery codes",
        lede="The old ones count no more.",
        button="Make ten new codes",
    )


@sensitive_post_parameters()
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def take_off(request: HttpRequest) -> HttpResponse:
    """Take the second factor off."""
    user = person(request)
    if not user.second_factor:
        return redirect("account")
    form = SureForm(user, request.POST if request.method == "POST" else None)
    if form.is_valid():
        try:
            second_factor.take_off(user=user)
        except Refused as refused:
            form.add_error(refused.field, str(refused))
        else:
            tell(user, "the second factor was taken off", now=moment.now())
            messages.success(request, "The second factor is off. Your password alone lets you in.")
            return redirect("account")
    return form_page(
        request,
        form,
        heading="Take the second factor off",
        lede="Then your password alone lets you in.",
        button="Take it off",
    )
