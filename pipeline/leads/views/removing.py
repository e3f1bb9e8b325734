"""Removing a lead; what was removed in the last thirty days, and putting it back."""

from __future__ import annotations

from django.apps import apps
from django.conf import settings
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from pipeline.clock import moment
from pipeline.history.models import KEPT, Change
from pipeline.history.reading import in_words
from pipeline.leads.models import Lead
from pipeline.leads.removing import put_back_removed, remove_lead
from pipeline.teams.forms import OnceForm
from pipeline.teams.models import Role
from pipeline.teams.pages import new_page
from pipeline.teams.refused import Refused
from pipeline.teams.tenancy import TeamRequest, door, fetch

A_PAGE = 50


@door(needs=Role.MEMBER)
@require_http_methods(["GET", "HEAD", "POST"])
def lead_remove(request: TeamRequest, pk: int) -> HttpResponse:
    """Ask whether to remove a lead, and remove it; clicked twice, it removes once."""
    now = moment.now()
    lead = Lead.objects.for_team(request.team).filter(pk=pk).first()
    form = OnceForm(request.POST if request.method == "POST" else None)
    if lead is None and not form.is_valid():
        raise Http404

    def work(form: OnceForm) -> str:
        # reached without a lead only by a form that was never received
        if lead is None:
            raise Http404
        remove_lead(lead=lead)
        return reverse("removed", args=[request.team.slug])

    return new_page(
        request,
        form=form,
        now=now,
        work=work,
        done="The lead is removed. For 30 days it can be put back from here.",
        here="leads",
        heading="Remove the lead?",
        lede=(
            f"{lead}, with its people, sessions, deliverables, decisions and follow-ups. It no "
            "longer counts in any figure. For 30 days it can be put back."
            if lead
            else ""
        ),
        button="Remove it",
        about=lead,
        back=reverse("lead", args=[request.team.slug, pk]) if lead else "",
    )


@door()
@require_safe
def removed(request: TeamRequest) -> HttpResponse:
    """List what was removed in the last thirty days, the newest first."""
    tables = [apps.get_model(label)._meta.db_table for label in settings.HISTORY]
    rows = (
        Change.objects.for_team(request.team)
        .to_be_put_back()
        .filter(at__gte=moment.now() - KEPT, table__in=tables)
        .exclude(said={})
        .newest_first()
    )
    lead = request.GET.get("lead", "")
    if lead.isdecimal():
        rows = rows.filter(lead=int(lead[:18]))
    page = Paginator(rows, A_PAGE).get_page(request.GET.get("page"))
    acts: dict[str, list[Change]] = {}
    for change in page.object_list:
        acts.setdefault(change.act, []).append(change)
    # What an act removed last is what was meant; the rest went with it.
    first = in_words(changes[0] for changes in acts.values())
    entries = [(entry, len(acts[entry.change.act]) - 1) for entry in first]
    context = {"here": "leads", "page": page, "entries": entries}
    return render(request, "leads/removed.html", context)


@door(needs=Role.MEMBER)
@require_POST
def put_back(request: TeamRequest, pk: int) -> HttpResponse:
    """Put back what was removed together with one row."""
    change = fetch(Change.objects.filter(removed=True), request.team, pk=pk)
    try:
        put_back_removed(team=request.team, change=change, now=moment.now())
    except Refused as refused:
        messages.error(request, str(refused))
        return redirect("removed", request.team.slug)
    messages.success(request, "It is back.")
    if change.lead is not None and Lead.objects.filter(pk=change.lead).exists():
        return redirect("lead", request.team.slug, change.lead)
    return redirect("removed", request.team.slug)
