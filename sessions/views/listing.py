"""All sessions in order of time, and the week's free hours."""

from __future__ import annotations

from django.db.models import Q
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from pipeline.clock import moment
from pipeline.teams.tenancy import TeamRequest, door
from sessions.clashes import week_at
from sessions.models import DiscoverySession, Offer, State

from .keyset import page_before


@door()
@require_safe
def sessions(request: TeamRequest) -> HttpResponse:
    """List sessions: late to be closed, today, ahead, then what became of the others."""
    today = request.team.today(moment.now())
    all_of_team = DiscoverySession.objects.for_team(request.team).with_names()
    at_hand = list(
        all_of_team.filter(Q(state=State.BOOKED) | Q(day=today)).order_by("day", "starts_at", "pk")
    )
    marked = all_of_team.exclude(state=State.BOOKED).exclude(day=today)
    return render(
        request,
        "sessions/sessions.html",
        {
            "here": "sessions",
            "today": today,
            "week": week_at(request.team, today),
            "late": [s for s in at_hand if s.late_on(today)],
            "of_today": [s for s in at_hand if s.day == today],
            "ahead": [s for s in at_hand if s.day > today],
            "held": list(Offer.objects.for_team(request.team).open().with_names()),
            "marked": page_before(marked, "day", request.GET.get("before", "")),
            "paged": "before" in request.GET,
        },
    )
