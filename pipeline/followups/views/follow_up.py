"""A follow-up's page, and a new one by hand."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from pipeline.clock import moment
from pipeline.followups import actions
from pipeline.followups.forms import (
    DropForm,
    FollowUpForm,
    GiveForm,
    NewFollowUpForm,
    PutOffForm,
)
from pipeline.followups.lead_letters import delivery
from pipeline.followups.models import FollowUp, FollowUpState
from pipeline.leads.models import Lead
from pipeline.teams.models import Role
from pipeline.teams.pages import edit_page, new_page
from pipeline.teams.tenancy import TeamRequest, door, fetch

PAGE = "followups/follow_up.html"


@door()
@require_http_methods(["GET", "HEAD", "POST"])
def follow_up(request: TeamRequest, pk: int) -> HttpResponse:
    """Show a follow-up with what can be done about it, and change it while it is open."""
    now = moment.now()
    row = fetch(FollowUp.objects.with_all(), request.team, pk=pk)
    row.team = request.team
    if request.method != "POST":
        return page(request, row)
    form = FollowUpForm(request.POST, instance=row, auto_id="edit_%s")

    def work(form: FollowUpForm, version: int) -> None:
        actions.change(follow_up=form.instance, now=now, expected_version=version)

    return edit_page(
        request,
        form=form,
        work=work,
        done="Saved.",
        url=reverse("follow-up", args=[request.team.slug, pk]),
        template=PAGE,
        **context(request, fetch(FollowUp.objects.with_all(), request.team, pk=pk)),
    )


def page(request: TeamRequest, row: FollowUp, *, status: int = 200, **forms: Any) -> HttpResponse:
    """Show the page of ``row``; ``forms`` stand in for the empty ones where one was refused."""
    row.team = request.team
    form = None
    if row.state == FollowUpState.OPEN and request.member.writes:
        form = FollowUpForm(instance=row, auto_id="edit_%s")
    shown = {"form": form, **context(request, row), **forms}
    return render(request, PAGE, shown, status=status)


def context(request: TeamRequest, row: FollowUp) -> dict[str, Any]:
    """Return what the page shows beside the form that edits the row."""
    row.team = request.team
    version = {"version": row.version}
    return {
        "here": "start",
        "row": row,
        "today": request.team.today(moment.now()),
        "became": actions.what_became(row),
        "letters": [
            (one, delivery(one.letter, request.team) if one.sent_at else "a draft")
            for one in row.letters.with_names()
        ],
        "put_off_form": PutOffForm(initial=version, auto_id="put_off_%s"),
        "give_form": GiveForm(initial=version, auto_id="give_%s", team=request.team),
        "drop_form": DropForm(auto_id="drop_%s"),
    }


@door(needs=Role.MEMBER)
@require_http_methods(["GET", "HEAD", "POST"])
def follow_up_new(request: TeamRequest, pk: int) -> HttpResponse:
    """Add a follow-up to a lead by hand."""
    now = moment.now()
    lead = fetch(Lead.objects.present(), request.team, pk=pk)
    lead.team = request.team
    url = reverse("lead", args=[request.team.slug, lead.pk])
    form = NewFollowUpForm(
        request.POST or None, team=request.team, initial={"owner": request.member.pk}
    )

    def work(form: NewFollowUpForm) -> str:
        data = form.cleaned_data
        actions.add(
            lead=lead,
            now=now,
            action=data["action"],
            due_on=data["due_on"],
            owner=data["owner"],
        )
        return url

    return new_page(
        request,
        form=form,
        now=now,
        work=work,
        done="The follow-up is noted.",
        here="leads",
        heading="New follow-up",
        about=lead,
        back=url,
        button="Note it",
    )
