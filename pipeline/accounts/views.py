"""Signing in by a link, and choosing a team."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.forms import SetPasswordForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from pipeline.accounts.joining import read_invitation
from pipeline.accounts.links import user_of_link
from pipeline.locks.asking import as_team, as_user
from pipeline.teams.membership import join
from pipeline.teams.models import Member
from pipeline.teams.refused import Refused


@sensitive_post_parameters()
@never_cache
@login_not_required
@require_http_methods(["GET", "HEAD", "POST"])
def open_link(request: HttpRequest, uid: str, token: str) -> HttpResponse:
    """Ask for a password, set it, and sign in. Opening the page alone changes nothing."""
    user = user_of_link(uid, token)
    if user is None:
        return render(request, "accounts/link_over.html", status=410)
    form = SetPasswordForm(user, request.POST or None)
    if request.method == "POST" and form.is_valid():
        form.save()
        login(request, user)
        return redirect("teams")
    return render(request, "accounts/link.html", {"form": form, "user_of_link": user})


@require_http_methods(["GET", "HEAD"])
def teams(request: HttpRequest) -> HttpResponse:
    """List the teams of this person; with only one go there, unless asked for ``all``."""
    with as_user(request.user.pk):
        memberships = list(Member.objects.for_switching(request.user))
    if len(memberships) == 1 and "all" not in request.GET:
        return redirect("start", memberships[0].team.slug)
    return render(request, "accounts/teams.html", {"memberships": memberships})


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def join_team(request: HttpRequest, token: str) -> HttpResponse:
    """Let the person who was asked say yes. Opening the page alone changes nothing."""
    invitation = read_invitation(token)
    if invitation is None or invitation.user != request.user:
        return render(request, "accounts/invitation_over.html", status=410)
    team = invitation.team
    if request.method == "POST":
        try:
            with as_team(team.pk):
                join(team=team, email=invitation.user.email, role=invitation.role)
            messages.success(request, f"You are in {team} now.")
        except Refused:
            messages.info(request, f"You are in {team} already.")
        return redirect("start", team.slug)
    return render(request, "accounts/join.html", {"invitation": invitation})
