"""Log a lead, shortly or in full, and edit it."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from pipeline.clock import moment
from pipeline.leads.entry import amend_lead, log_lead
from pipeline.leads.forms.lead import FullEntry, LeadForm, ShortEntry
from pipeline.leads.models import Lead
from pipeline.leads.returning import similar
from pipeline.teams.models import Role
from pipeline.teams.pages import edit_page, new_page
from pipeline.teams.refused import Refused
from pipeline.teams.tenancy import TeamRequest, door, fetch

GET_AND_POST = ["GET", "HEAD", "POST"]


@door(needs=Role.MEMBER)
@require_http_methods(GET_AND_POST)
def new_short(request: TeamRequest) -> HttpResponse:
    """Log a lead with the least that it needs."""
    return _new(request, ShortEntry)


@door(needs=Role.MEMBER)
@require_http_methods(GET_AND_POST)
def new_full(request: TeamRequest) -> HttpResponse:
    """Log a lead with all there is to say; takes over what the short form held."""
    return _new(request, FullEntry)


def _new(request: TeamRequest, form_class: type[ShortEntry]) -> HttpResponse:
    now, team = moment.now(), request.team
    initial = {
        "enquired_on": team.today(now),
        "owner": request.member,
        "currency": team.currency,
    }
    if "more" in request.POST:
        typed = {name: request.POST.get(name, "") for name in ShortEntry.field_order}
        form = form_class(team=team, initial={**initial, **typed})
    else:
        data = request.POST if request.method == "POST" else None
        form = form_class(data, team=team, initial=initial)
    offers: list[Lead] = []

    def work(form: ShortEntry) -> str:
        fields = form.fields_of_lead()
        if "anyway" not in request.POST:
            emails = [fields["contact_email"]]
            offers.extend(similar(team, organisation=fields["organisation"], emails=emails))
        if offers:
            raise Refused("Nothing is stored yet: this may be a lead that you have already.")
        lead = log_lead(team=team, member=request.member, now=now, **fields)
        return reverse("lead", args=[team.slug, lead.pk])

    return new_page(
        request,
        form=form,
        now=now,
        work=work,
        done="The lead is logged.",
        template="leads/new.html",
        here="leads",
        short=form_class is ShortEntry,
        offers=offers,
        today=team.today(now),
    )


@door(needs=Role.MEMBER)
@require_http_methods(GET_AND_POST)
def edit(request: TeamRequest, pk: int) -> HttpResponse:
    """Edit a lead; one that was merged away leads to the lead that was kept."""
    lead = fetch(Lead.objects.with_names(), request.team, pk=pk)
    if lead.merged_into is not None and request.method != "POST":
        return redirect("lead-edit", request.team.slug, lead.kept().pk)
    data = request.POST if request.method == "POST" else None
    name = str(lead)

    def work(form: LeadForm, version: int) -> None:
        amend_lead(
            lead=form.instance,
            source=form.cleaned_data["source"],
            expected_version=version,
            now=moment.now(),
        )

    return edit_page(
        request,
        form=LeadForm(data, instance=lead, team=request.team),
        work=work,
        done="The lead is saved.",
        url=reverse("lead", args=[request.team.slug, pk]),
        here="leads",
        heading="Edit the lead",
        about=name,
    )
