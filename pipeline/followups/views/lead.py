"""A lead's page: where it stands, what is due next, and its whole history."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from pipeline.clock import moment
from pipeline.leads.models import Lead
from pipeline.teams.tenancy import TeamRequest, door, fetch


@door()
@require_safe
def lead(request: TeamRequest, pk: int) -> HttpResponse:
    """Show a lead; one that was merged away leads to the lead that was kept."""
    found = fetch(Lead.objects.with_names(), request.team, pk=pk)
    if found.merged_into_id:
        return redirect("lead", request.team.slug, found.merged_into_id)
    today = request.team.today(moment.now())
    return render(
        request,
        "followups/lead.html",
        {
            "here": "leads",
            "lead": found,
            "today": today,
        },
    )
