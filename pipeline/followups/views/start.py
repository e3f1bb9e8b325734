"""The start page: what is late, due today, and ahead."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from pipeline.clock import moment
from pipeline.followups.due import agenda
from pipeline.teams.models import Role
from pipeline.teams.tenancy import TeamRequest, door
from pipeline.watching.failures import count_given_up, in_words


@door()
@require_safe
def start(request: TeamRequest) -> HttpResponse:
    """Show what is due: the member's own and what nobody owns, or everybody's."""
    today = request.team.today(moment.now())
    everybody = request.GET.get("whose") == "everybody"
    found = agenda(request.team, today, None if everybody else request.member)
    fragment = request.htmx and not request.htmx.boosted
    warned = request.member.may(Role.OWNER) and not fragment
    return render(
        request,
        "followups/_due.html" if fragment else "followups/start.html",
        {
            "here": "start",
            "agenda": found,
            "today": today,
            "everybody": everybody,
            "fragment": fragment,
            "given_up": in_words(*count_given_up(request.team)) if warned else "",
        },
    )
