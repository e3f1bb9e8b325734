"""Who gets into a team: asking people in, a second factor for all, handing it over, leaving it."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from pipeline.clock import moment
from pipeline.mail.models import Letter
from pipeline.mail.outbox import goes_out
from pipeline.teams import membership
from pipeline.teams.models import Member, Role, Team
from pipeline.teams.pages import new_page
from pipeline.teams.refused import Refused
from pipeline.teams.tenancy import TeamRequest, door, fetch

from . import inviting
from .forms import AskForm
from .letters import key_of
from .links import may_be_handed_a_link, sign_in_link
from .models import Invitation


@never_cache
@door(needs=Role.OWNER)
@require_safe
def access(request: TeamRequest) -> HttpResponse:
    """Show who was asked in, and who has a second factor."""
    rows = list(Invitation.objects.for_team(request.team).open().with_names())
    keys = [key_of(row) for row in rows]
    letters = {
        letter.key: letter for letter in Letter.objects.for_team(request.team).filter(key__in=keys)
    }
    context = {
        "here": "team",
        "invitations": [
            (row, letters.get(key), "" if goes_out() else inviting.link_of(row))
            for row, key in zip(rows, keys, strict=True)
        ],
        "letters_go_out": goes_out(),
        "now": moment.now(),
        "without": list(
            Member.objects.for_team(request.team)
            .present()
            .filter(user__second_factor="")
            .with_user()
        ),
    }
    return render(request, "accounts/access.html", context)


@door(needs=Role.OWNER)
@require_http_methods(["GET", "HEAD", "POST"])
def new(request: TeamRequest) -> HttpResponse:
    """Ask somebody into the team."""

    def work(form: AskForm) -> str:
        asked = {name: form.cleaned_data[name] for name in ("email", "name", "role")}
        inviting.ask(owner=request.member, now=moment.now(), **asked)
        return reverse("access", args=[request.team.slug])

    return new_page(
        request,
        form=AskForm(request.POST if request.method == "POST" else None),
        now=moment.now(),
        work=work,
        done=_done(),
        heading="Ask somebody in",
        lede="They are in the team once they have said yes themselves.",
        about="Who gets in",
        back=reverse("access", args=[request.team.slug]),
        button="Ask in",
        here="team",
    )


def _done() -> str:
    if goes_out():
        return "A letter with a link is on its way. It holds for three days."
    return "Now hand over the link below. It holds for three days."


@door(needs=Role.OWNER)
@require_POST
def send_again(request: TeamRequest, pk: int) -> HttpResponse:
    """Ask once more, by a new link."""
    invitation = fetch(Invitation.objects.all(), request.team, pk=pk)
    try:
        inviting.send_again(invitation=invitation, now=moment.now())
        messages.success(request, f"{_done()} The link before it is over.")
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("access", request.team.slug)


@door(needs=Role.OWNER)
@require_POST
def withdraw(request: TeamRequest, pk: int) -> HttpResponse:
    """Take an invitation back."""
    invitation = fetch(Invitation.objects.all(), request.team, pk=pk)
    if inviting.withdraw(invitation=invitation, now=moment.now()):
        messages.success(request, f"{invitation} is asked no more; the link is over.")
    else:
        messages.info(request, "The invitation was over already.")
    return redirect("access", request.team.slug)


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


@door(needs=Role.OWNER)
@require_POST
def require_second_factor(request: TeamRequest) -> HttpResponse:
    """Ask a second factor of every member, or no more."""
    required = request.POST.get("required") == "yes"
    try:
        changed = membership.require_second_factor(owner=request.member, required=required)
    except Refused as refused:
        messages.error(request, str(refused))
        return redirect("access", request.team.slug)
    told = "Every member needs a second factor" if required else "A second factor is up to each"
    messages.success(request, f"{told} {'now' if changed else 'already'}.")
    return redirect("access", request.team.slug)


class HandOverForm(forms.Form):
    """To whom a team goes, and what stays for its owner."""

    to = forms.ModelChoiceField(
        Member.objects.none(), label="New owner", empty_label="Choose somebody"
    )
    role = forms.ChoiceField(
        label="You will be",
        choices=[
            (Role.MEMBER, "a member"),
            (Role.READER, "a reader"),
            (Role.OWNER, "an owner too"),
        ],
    )

    def __init__(self, team: Team, owner: Member, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        others = Member.objects.for_team(team).present().with_user().exclude(pk=owner.pk)
        self.fields["to"].queryset = others  # type: ignore[attr-defined]


@door(needs=Role.OWNER)
@require_http_methods(["GET", "HEAD", "POST"])
def hand_over(request: TeamRequest) -> HttpResponse:
    """Give the team to another owner."""
    bound = request.POST if request.method == "POST" else None
    form = HandOverForm(request.team, request.member, bound)
    if form.is_valid():
        to, role = form.cleaned_data["to"], form.cleaned_data["role"]
        try:
            membership.hand_over(owner=request.member, to=to, role=role)
        except Refused as refused:
            form.add_error(refused.field, str(refused))
        else:
            messages.success(request, f"{to} is an owner of {request.team} now. You are {role}.")
            return redirect("team", request.team.slug)
    return render(
        request,
        "teams/form_page.html",
        {
            "form": form,
            "heading": "Hand the team over",
            "lede": "A reader may own no work: theirs would be nobody’s until somebody takes it.",
            "about": "Who gets in",
            "back": reverse("access", args=[request.team.slug]),
            "button": "Hand over",
            "here": "team",
        },
        status=422 if form.is_bound else 200,
    )


@door(own=True, leads_out=True)
@require_http_methods(["GET", "HEAD", "POST"])
def leave(request: TeamRequest) -> HttpResponse:
    """Leave the team."""
    if request.method == "POST":
        today = request.team.today(moment.now())
        try:
            membership.remove(member=request.member, today=today)
        except Refused as refused:
            messages.error(request, str(refused))
            return redirect("leave", request.team.slug)
        messages.success(request, f"You have left {request.team}.")
        return redirect("teams")
    return render(request, "accounts/leave.html", {"here": "team"})
