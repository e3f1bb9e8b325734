"""The team's follow-up plan, to read."""

from __future__ import annotations

from itertools import groupby

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from pipeline.followups.models import PlanStep, Trigger
from pipeline.followups.plans import when
from pipeline.teams.tenancy import TeamRequest, door


@door()
@require_safe
def plan(request: TeamRequest) -> HttpResponse:
    """Show the plan in words, in the order in which a lead meets its facts."""
    met = list(Trigger.values)
    steps = sorted(
        PlanStep.objects.current(request.team), key=lambda s: (met.index(s.trigger), s.position)
    )
    groups = [
        (Trigger(trigger).label, [(step, when(step)) for step in of_trigger])
        for trigger, of_trigger in groupby(steps, key=lambda s: s.trigger)
    ]
    return render(request, "followups/plan.html", {"here": "team", "groups": groups})
