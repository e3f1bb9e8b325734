"""The team's follow-up plan in words, and what a changed one means for what is open."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST, require_safe

from pipeline.clock import moment
from pipeline.followups import editing, moving
from pipeline.followups.models import PlanEdition, Trigger
from pipeline.followups.plan_forms import EditionForm
from pipeline.followups.plans import in_force, waits, when
from pipeline.leads.models import Lead
from pipeline.teams.models import Role, Team
from pipeline.teams.refused import Refused
from pipeline.teams.tenancy import TeamRequest, door

# So many changes of each kind are shown, the rest is counted.
SHOWN = 200


@door()
@require_safe
def plan(request: TeamRequest) -> HttpResponse:
    """Show the plan in words, in the order in which a lead meets its facts."""
    editions = in_force(request.team)
    steps = editions[0].steps if editions else []
    groups = [
        (trigger, [(step, when(step)) for step in steps if step.trigger == trigger])
        for trigger in Trigger
    ]
    shown = groups if request.member.writes else [group for group in groups if group[1]]
    context = {
        "here": "team",
        "groups": shown,
        "any_steps": bool(steps),
        "edition": _newest(request.team),
        "waits": waits(editions),
    }
    return render(request, "followups/plan.html", context)


@door()
@require_safe
def plan_changes(request: TeamRequest) -> HttpResponse:
    """Show which open follow-ups would move, come and go if the plan held for older facts too."""
    now = moment.now()
    changes = moving.would_change(request.team, now)
    kinds = [
        (name, words, len(found), _with_leads(request.team, found[:SHOWN]), len(found[SHOWN:]))
        for name, words, found in (
            ("move", "moves,move", changes.moved),
            ("come", "is added,are added", changes.added),
            ("go", "ends,end", changes.ended),
        )
        if found
    ]
    context = {
        "here": "team",
        "kinds": kinds,
        "edition": _newest(request.team),
        "waits": waits(in_force(request.team)),
        "today": request.team.today(now),
    }
    return render(request, "followups/plan_changes.html", context)


@door(needs=Role.MEMBER)
@require_POST
def plan_move(request: TeamRequest) -> HttpResponse:
    """Let the newest plan hold for older facts too, as it was shown."""
    try:
        changes = moving.move(team=request.team, number=_seen(request), now=moment.now())
    except Refused as refused:
        messages.error(request, str(refused))
        return redirect("plan-changes", request.team.slug)
    told = [
        f"{len(found)} {words}"
        for words, found in (
            ("moved", changes.moved),
            ("added", changes.added),
            ("ended", changes.ended),
        )
        if found
    ]
    said = f"Open follow-ups: {', '.join(told)}." if told else "No open follow-up was changed."
    messages.success(request, f"The plan holds for older facts too. {said}")
    return redirect("plan", request.team.slug)


@door(needs=Role.MEMBER)
@require_POST
def plan_put_back(request: TeamRequest) -> HttpResponse:
    """Put the plan back that stood before the one that was seen."""
    try:
        editing.put_back(
            team=request.team, number=_seen(request), member=request.member, now=moment.now()
        )
    except Refused as refused:
        messages.error(request, str(refused))
        return redirect("plan", request.team.slug)
    messages.success(request, "The earlier plan stands again.")
    return redirect("plan-changes", request.team.slug)


def _seen(request: TeamRequest) -> int:
    form = EditionForm(request.POST)
    if not form.is_valid():
        raise Refused("The button did not say which plan it was about. Press it once more.")
    number: int = form.cleaned_data["number"]
    return number


def _newest(team: Team) -> PlanEdition | None:
    rows = PlanEdition.objects.select_related("made_by__user")
    found: PlanEdition | None = rows.newest(team)
    return found


def _with_leads(team: Team, changes: Sequence[moving.Change]) -> list[dict[str, Any]]:
    leads = Lead.objects.for_team(team).in_bulk({change.row.lead_id for change in changes})
    return [{"change": change, "lead": leads[change.row.lead_id]} for change in changes]
