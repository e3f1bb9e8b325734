"""Choosing a team, and saying yes to one."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.views import redirect_to_login
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from pipeline.clock import moment
from pipeline.locks.asking import as_user
from pipeline.teams.models import Member, User
from pipeline.teams.refused import Refused

from . import inviting
from .browsers import enter
from .forms import NewcomerForm
from .models import Invitation


@require_http_methods(["GET", "HEAD"])
def teams(request: HttpRequest) -> HttpResponse:
    """List the teams of this person; with only one go there, unless asked for ``all``."""
    with as_user(request.user.pk):
        memberships = list(Member.objects.for_switching(request.user))
    if len(memberships) == 1 and "all" not in request.GET:
        return redirect("start", memberships[0].team.slug)
    return render(request, "accounts/teams.html", {"memberships": memberships})


@sensitive_post_parameters()
@never_cache
@login_not_required
@require_http_methods(["GET", "HEAD", "POST"])
def join_team(request: HttpRequest, token: str) -> HttpResponse:
    """Let the person who was asked say yes. Opening the page alone changes nothing."""
    invitation = inviting.read(token, now=moment.now())
    if invitation is None:
        return render(request, "accounts/invitation_over.html", status=410)
    account = inviting.account_of(invitation)
    if request.user.is_authenticated and request.user != account:
        context = {"invitation": invitation}
        return render(request, "accounts/invitation_of_another.html", context, status=403)
    if account is None:
        return _come_in(request, invitation)
    if not request.user.is_authenticated:
        return redirect_to_login(request.get_full_path())
    if request.method == "POST":
        return _accept(request, invitation)
    return render(request, "accounts/join.html", {"invitation": invitation})


def _come_in(request: HttpRequest, invitation: Invitation) -> HttpResponse:
    """Make an account for somebody who has none."""
    newcomer = User(email=invitation.email, name=invitation.name)
    bound = request.POST if request.method == "POST" else None
    form = NewcomerForm(newcomer, bound, initial={"name": invitation.name})
    if form.is_valid():
        return _accept(
            request,
            invitation,
            name=form.cleaned_data["name"],
            password=form.cleaned_data["new_password1"],
        )
    context = {"invitation": invitation, "form": form}
    status = 422 if form.is_bound else 200
    return render(request, "accounts/newcomer.html", context, status=status)


def _accept(
    request: HttpRequest, invitation: Invitation, *, name: str = "", password: str = ""
) -> HttpResponse:
    try:
        member, new = inviting.accept(
            invitation=invitation, now=moment.now(), name=name, password=password
        )
    except Refused as refused:
        messages.info(request, str(refused))
        return redirect("teams")
    if new:
        enter(request, member.user)
    messages.success(request, f"You are in {invitation.team} now.")
    return redirect("start", invitation.team.slug)
