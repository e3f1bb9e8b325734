"""A team's settings and members."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import FileResponse, Http404, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import NoReverseMatch, reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from pipeline.clock import moment

from . import membership
from .absences import listed, may_change
from .days_off import in_words
from .logo import ENDINGS, LogoForm, keep_logo, remove_logo
from .models import Member, Role, Team
from .pages import edit_page
from .refused import Refused
from .saving import save_settings
from .settings_form import WEEKDAYS, TeamForm
from .tenancy import TeamRequest, door, fetch
from .wanted import WantedForm

# What else belongs to a team as a whole; pages of higher floors, by name.
PLACES = {
    "formats": "Formats of sessions",
    "deliverables": "Deliverables",
    "plan": "Follow-up plan",
    "feed": "Your calendar elsewhere",
    "enquiry-page": "Enquiry page",
    "rates": "Exchange rates",
    "letters": "Letters sent and waiting",
    "sheets": "Take in a spreadsheet",
    "export": "Export as a spreadsheet",
    "rights": "People’s data",
}
OWNERS_PLACES = {"rights"}
FOLLOWS = (
    "The settings are saved. Open follow-ups move to the new working days in a moment; what was "
    "put off or added by hand keeps its day."
)


@door()
@require_safe
def team(request: TeamRequest) -> HttpResponse:
    """Show the team: members and their roles, settings, and what else belongs to it."""
    return render(request, "teams/team.html", _shown(request))


def _shown(request: TeamRequest) -> dict[str, Any]:
    today = request.team.today(moment.now())
    return {
        "here": "team",
        "members": list(Member.objects.for_team(request.team).present().with_user()),
        "roles": Role.choices,
        "weekdays": [WEEKDAYS[day] for day in sorted(request.team.working_days)],
        "days_off": in_words(request.team.days_off, today),
        "absences": [
            (absence, also_away, may_change(request.member, absence))
            for absence, also_away in listed(request.team, today)
        ],
        "today": today,
        "wanted": WantedForm(member=request.member),
        "places": _places(request.member),
        "logo": LogoForm(initial={"replaces": request.team.logo.name or ""}),
    }


def _places(member: Member) -> list[tuple[str, str]]:
    found = []
    for name, words in PLACES.items():
        if name in OWNERS_PLACES and not member.may(Role.OWNER):
            continue
        try:
            found.append((reverse(name, args=[member.team.slug]), words))
        except NoReverseMatch:
            continue
    return found


@door(needs=Role.OWNER)
@require_http_methods(["GET", "HEAD", "POST"])
def settings(request: TeamRequest) -> HttpResponse:
    """Edit the team's settings."""
    # A copy: the page keeps saying the stored name while a wrong one is being mended.
    stored = Team.objects.get(pk=request.team.pk)
    form = TeamForm(request.POST if request.method == "POST" else None, instance=stored)

    def work(form: TeamForm, version: int) -> str | None:
        saved = form.save(commit=False)
        now = moment.now()
        return FOLLOWS if save_settings(team=saved, expected_version=version, now=now) else None

    return edit_page(
        request,
        form=form,
        work=work,
        done="The settings are saved.",
        url=reverse("team", args=[request.team.slug]),
        heading="The team's settings",
        about=request.team.name,
        here="team",
    )


@door(needs=Role.OWNER)
@require_POST
def role(request: TeamRequest, pk: int) -> HttpResponse:
    """Give a member another role."""
    member = fetch(Member.objects.present().with_user(), request.team, pk=pk)
    wanted = request.POST.get("role", "")
    try:
        if wanted not in Role.values:
            raise Refused("Choose one of the roles: reader, member, owner.")
        if membership.change_role(member=member, role=wanted):
            messages.success(request, f"{member} is now {wanted}.")
        else:
            messages.info(request, f"{member} was {wanted} already.")
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("team", request.team.slug)


@door(needs=Role.OWNER)
@require_POST
def remove(request: TeamRequest, pk: int) -> HttpResponse:
    """Let a member leave the team."""
    member = fetch(Member.objects.with_user(), request.team, pk=pk)
    try:
        left = membership.remove(member=member, today=request.team.today(moment.now()))
    except Refused as refused:
        messages.error(request, str(refused))
        return redirect("team", request.team.slug)
    if left:
        said = (
            f"{member} has left {request.team}. What they did stays; their work has no owner now."
        )
        messages.success(request, said)
    else:
        messages.info(request, f"{member} had left already.")
    if member.pk == request.member.pk:
        return redirect("teams")
    return redirect("team", request.team.slug)


@door(own=True)
@require_POST
def wanted(request: TeamRequest) -> HttpResponse:
    """Keep which letters one gets, as the boxes say."""
    form = WantedForm(request.POST, member=request.member)
    if form.is_valid():
        form.keep()
        gets = ", ".join(request.member.gets)
        told = f"You get: {gets}." if gets else "You get no letters but those you ask for."
        messages.success(request, told)
    else:
        messages.error(request, "Choose among the letters that are listed. Nothing was changed.")
    return redirect(reverse("team", args=[request.team.slug]) + "#letters")


@door()
@require_http_methods(["GET", "HEAD", "POST"])
def logo(request: TeamRequest) -> HttpResponseBase:
    """Show the team's logo; an owner puts another in its place, or removes it."""
    if request.method != "POST":
        return _logo_file(request.team)
    if not request.member.may(Role.OWNER):
        raise PermissionDenied
    replaces = request.POST.get("replaces", "")
    form = LogoForm(request.POST, request.FILES)
    try:
        if "remove" in request.POST:
            removed = remove_logo(team=request.team, replaces=replaces)
            said = "The logo is removed." if removed else "There was no logo any more."
            messages.success(request, said)
            return redirect("team", request.team.slug)
        if form.is_valid():
            keep_logo(team=request.team, **form.cleaned_data)
            messages.success(request, "The logo is kept. Documents of the team show it.")
            return redirect("team", request.team.slug)
    except Refused as refused:
        form.add_error(refused.field, str(refused))
        stored = Team.objects.get(pk=request.team.pk).logo.name or ""
        form.data = {"replaces": stored}
    return render(request, "teams/team.html", _shown(request) | {"logo": form}, status=422)


def _logo_file(team: Team) -> HttpResponseBase:
    if not team.logo:
        raise Http404
    try:
        content = team.logo.open("rb")
    except FileNotFoundError as missing:
        raise Http404 from missing
    kinds = {ending: kind for kind, ending in ENDINGS.items()}
    return FileResponse(
        content,
        content_type=kinds[team.logo.name.rpartition(".")[2]],
        headers={"Cache-Control": "private, no-cache", "X-Content-Type-Options": "nosniff"},
    )
