"""Letting people into a team: an owner names an address and hands over a link."""

from __future__ import annotations

from django import forms
from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from pipeline.clock import moment
from pipeline.teams.forms import OnceForm
from pipeline.teams.membership import join
from pipeline.teams.models import Member, Role, User
from pipeline.teams.pages import new_page
from pipeline.teams.refused import Refused
from pipeline.teams.tenancy import TeamRequest, door, fetch

from .joining import Invitation, invitation_link, invitation_token, read_invitation
from .links import may_be_handed_a_link, sign_in_link


class MemberForm(OnceForm):
    """Whom to let in."""

    email = forms.EmailField(label="E-mail", max_length=254)
    name = forms.CharField(max_length=120, required=False)
    role = forms.ChoiceField(
        choices=Role.choices,
        initial=Role.MEMBER,
        help_text="A reader reads, a member writes, an owner also runs the team.",
    )


@door(needs=Role.OWNER)
@require_http_methods(["GET", "HEAD", "POST"])
def new(request: TeamRequest) -> HttpResponse:
    """Let somebody in: a new person at once, one with an account once they agree."""

    def work(form: MemberForm) -> str:
        email, role = form.cleaned_data["email"], Role(form.cleaned_data["role"])
        user = User.objects.filter(email__iexact=email).first()
        if user is None:
            name = form.cleaned_data["name"]
            member = join(team=request.team, email=email, name=name, role=role)
            return reverse("member-link", args=[request.team.slug, member.pk])
        if Member.objects.for_team(request.team).present().filter(user=user).exists():
            raise Refused(f"{user} is in the team already.", "email")
        token = invitation_token(Invitation(user, request.team, role))
        return reverse("member-asked", args=[request.team.slug, token])

    return new_page(
        request,
        form=MemberForm(request.POST if request.method == "POST" else None),
        now=moment.now(),
        work=work,
        done="Now hand over the link.",
        heading="Let somebody in",
        about="Team",
        back=reverse("team", args=[request.team.slug]),
        button="Let in",
        here="team",
    )


@never_cache
@door(needs=Role.OWNER)
@require_safe
def link(request: TeamRequest, pk: int) -> HttpResponse:
    """Show the sign-in link of a member who never signed in, to be handed over."""
    member = fetch(Member.objects.present().with_user(), request.team, pk=pk)
    if not may_be_handed_a_link(member.user):
        raise Http404
    context = {"person": member.user, "link": sign_in_link(member.user), "here": "team"}
    return render(request, "accounts/hand_over.html", context)


@never_cache
@door(needs=Role.OWNER)
@require_safe
def asked(request: TeamRequest, token: str) -> HttpResponse:
    """Show the link with which somebody who has an account joins, to be handed over."""
    invitation = read_invitation(token)
    if invitation is None or invitation.team != request.team:
        raise Http404
    context = {
        "person": invitation.user,
        "has_account": True,
        "link": invitation_link(token),
        "here": "team",
    }
    return render(request, "accounts/hand_over.html", context)
