"""Signing in: the password, then the second factor; and a forgotten password."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.forms import AuthenticationForm, SetPasswordForm
from django.contrib.auth.views import LoginView, LogoutView
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect, render
from django.utils.crypto import constant_time_compare
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from pipeline.clock import moment
from pipeline.mail.outbox import goes_out
from pipeline.teams.models import User

from . import second_factor
from .browsers import end_others, enter
from .forms import CodeForm, ForgottenForm, SignInForm
from .letters import tell
from .links import user_of_link
from .resetting import evenly, person_of_reset, send_reset
from .slowing import Slowed, Who, admit, caller, forget

WAITING = "waits for the code"
# So long the password that was typed counts.
PATIENCE = timedelta(minutes=5)


class SignOutView(LogoutView):
    """End the session, and have the browser forget the pages that it keeps.

    Not what its scripts keep: at a session's desk that is what could not be sent yet.
    """

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        """Sign out."""
        response = super().post(request, *args, **kwargs)
        response.headers["Clear-Site-Data"] = '"cache"'
        return response


class SignInView(LoginView):
    """Ask for address and password."""

    template_name = "accounts/sign_in.html"
    form_class = SignInForm
    redirect_authenticated_user = True
    http_method_names = ["get", "head", "post"]

    def form_valid(self, form: AuthenticationForm) -> HttpResponse:
        """Sign in, or ask for the second factor first."""
        user, request = form.get_user(), self.request
        assert isinstance(user, User)
        if not user.second_factor:
            enter(request, user)
            return HttpResponseRedirect(self.get_success_url())
        # under a new key: whoever planted the one before is not let in by this password
        request.session.cycle_key()
        request.session[WAITING] = {
            "user": user.pk,
            "hash": user.get_session_auth_hash(),
            "until": (moment.now() + PATIENCE).isoformat(),
            "next": self.get_success_url(),
        }
        return redirect("sign-in-code")

    def form_invalid(self, form: AuthenticationForm) -> HttpResponse:
        """Show the form again; say when too many attempts went before."""
        response = super().form_invalid(form)
        slowed = getattr(form, "slowed", None)
        return _slowed(response, slowed) if slowed else response


def _slowed(response: HttpResponse, slowed: Slowed) -> HttpResponse:
    response.status_code = 429
    response.headers["Retry-After"] = str(slowed.seconds)
    return response


def _who_waits(request: HttpRequest) -> tuple[User, str] | None:
    """Return who has typed the right password a short while ago, and where they were going."""
    waiting: dict[str, Any] | None = request.session.get(WAITING)
    if waiting is None or moment.now() >= datetime.fromisoformat(waiting["until"]):
        return None
    user = User.objects.filter(pk=waiting["user"], is_active=True).first()
    if user is None or not constant_time_compare(user.get_session_auth_hash(), waiting["hash"]):
        return None
    return user, waiting["next"]


@sensitive_post_parameters()
@never_cache
@login_not_required
@require_http_methods(["GET", "HEAD", "POST"])
def code(request: HttpRequest) -> HttpResponse:
    """Ask for the second factor of whoever has typed the password, and sign in."""
    waits = _who_waits(request)
    if waits is None:
        return redirect("sign-in")
    (user, going), now = waits, moment.now()
    form = CodeForm(request.POST if request.method == "POST" else None)
    slowed = None
    if form.is_valid():
        who = Who("code", str(user.pk))
        try:
            admit([who], now=now)
        except Slowed as said:
            slowed = said
            form.add_error("code", str(said))
        else:
            if second_factor.is_right(user, form.cleaned_data["code"], now=now):
                forget(who)
                del request.session[WAITING]
                enter(request, user)
                return redirect(going)
            form.add_error("code", "That is not the code of this moment, or it was used already.")
    status = 422 if form.is_bound else 200
    response = render(request, "accounts/code.html", {"form": form}, status=status)
    return _slowed(response, slowed) if slowed else response


@never_cache
@login_not_required
@require_http_methods(["GET", "HEAD", "POST"])
def forgotten(request: HttpRequest) -> HttpResponse:
    """Send a link to whoever forgot a password; what is said tells nothing of accounts."""
    form = ForgottenForm(request.POST if request.method == "POST" else None)
    slowed = None
    if goes_out() and form.is_valid():
        email, now = form.cleaned_data["email"], moment.now()
        try:
            with evenly():
                admit([Who("reset", email), Who("reset from", caller(request))], now=now)
                send_reset(email, now=now)
        except Slowed as said:
            slowed = said
            form.add_error(None, str(said))
        else:
            told = "If there is an account for this address, a letter with a link is on its way."
            messages.success(request, told)
            return redirect("sign-in")
    context = {"form": form, "letters_go_out": goes_out()}
    status = 422 if form.is_bound else 200
    response = render(request, "accounts/forgotten.html", context, status=status)
    return _slowed(response, slowed) if slowed else response


@sensitive_post_parameters()
@never_cache
@login_not_required
@require_http_methods(["GET", "HEAD", "POST"])
def open_link(request: HttpRequest, uid: str, token: str) -> HttpResponse:
    """Ask for a password, set it, and sign in. Opening the page alone changes nothing."""
    return _new_password(request, user_of_link(uid, token))


@sensitive_post_parameters()
@never_cache
@login_not_required
@require_http_methods(["GET", "HEAD", "POST"])
def reset(request: HttpRequest, token: str) -> HttpResponse:
    """Ask for a password in place of a forgotten one, set it, and sign in."""
    return _new_password(request, person_of_reset(token, now=moment.now()))


def _new_password(request: HttpRequest, user: User | None) -> HttpResponse:
    if user is None:
        return render(request, "accounts/link_over.html", status=410)
    form = SetPasswordForm(user, request.POST if request.method == "POST" else None)
    if form.is_valid():
        had_one = user.has_usable_password()
        form.save()
        end_others(request, user)
        forget(Who("account", user.email))
        if had_one:
            tell(user, "a new password was set", now=moment.now())
        if user.second_factor:
            messages.success(request, "The new password holds. Sign in with it.")
            return redirect("sign-in")
        enter(request, user)
        return redirect("teams")
    return render(request, "accounts/link.html", {"form": form, "user_of_link": user})
