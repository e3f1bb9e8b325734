"""The list of leads."""

from __future__ import annotations

from django.db.models import Prefetch
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe
from django.views.decorators.vary import vary_on_headers

from pipeline.clock import moment
from pipeline.leads.forms.filters import Filters
from pipeline.leads.keyset import page
from pipeline.leads.models import Contact, Lead
from pipeline.teams.tenancy import TeamRequest, door


@door()
@require_safe
@vary_on_headers("HX-Request")
def leads(request: TeamRequest) -> HttpResponse:
    """Show the team's leads, narrowed and ordered as asked, a page at a time."""
    filters = Filters(request.GET, team=request.team)
    found = filters.narrow(Lead.objects.for_team(request.team).present())
    people = Prefetch("contacts", Contact.objects.order_by("pk"))
    shown = page(
        found.with_names().prefetch_related(people),
        filters.order(),
        after=request.GET.get("after", ""),
        before=request.GET.get("before", ""),
    )
    asks = request.htmx and not (request.htmx.boosted or request.htmx.history_restore_request)
    context = {
        "here": "leads",
        "filters": filters,
        "narrowed": bool(filters.asked()),
        "order": filters.order(),
        "count": found.count(),
        "page": shown,
        "today": request.team.today(moment.now()),
        "fragment": asks,
    }
    return render(request, "leads/_list.html" if asks else "leads/list.html", context)
