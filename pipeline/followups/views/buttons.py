"""What the buttons of a follow-up do: each says what happened and leads back where it was."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST

from pipeline.clock import moment
from pipeline.followups import actions
from pipeline.followups.forms import DropForm, GiveForm, PutOffForm
from pipeline.followups.models import FollowUp, FollowUpState
from pipeline.followups.planning import in_words
from pipeline.teams.models import Role
from pipeline.teams.refused import Refused
from pipeline.teams.tenancy import TeamRequest, door, fetch

from .follow_up import page


@door(needs=Role.MEMBER)
@require_POST
def done(request: TeamRequest, pk: int) -> HttpResponse:
    """Mark a follow-up done."""
    row, did = actions.mark_done(
        follow_up=_fetched(request, pk), member=request.member, now=moment.now()
    )
    return _back(request, row, did, f"Done: {row.action}.")


@door(needs=Role.MEMBER)
@require_POST
def undo(request: TeamRequest, pk: int) -> HttpResponse:
    """Open a done or dropped follow-up again."""
    row, did = actions.undo(follow_up=_fetched(request, pk), now=moment.now())
    said = f"Open again: {row.action}."
    if did and row.state == FollowUpState.ENDED:
        said = f"{row.action}: it {actions.what_became(row)}."
    elif not did and row.state == FollowUpState.OPEN:
        said, did = f"{row.action}: it is open already. Nothing was changed.", True
    return _back(request, row, did, said)


@door(needs=Role.MEMBER)
@require_POST
def put_off(request: TeamRequest, pk: int) -> HttpResponse:
    """Put a follow-up off until a day ahead."""
    row = _fetched(request, pk)
    form = PutOffForm(request.POST, auto_id="put_off_%s")
    if form.is_valid():
        until = form.cleaned_data["until"]
        try:
            row, did = actions.put_off(
                follow_up=row,
                now=moment.now(),
                until=until,
                expected_version=form.cleaned_data["version"],
            )
        except Refused as refused:
            form.add_error(refused.field, str(refused))
        else:
            said = f"{row.action}: put off until {in_words(row.due_on)}."
            if row.due_on != until:
                said += f" Nobody works on {in_words(until)}."
            return _back(request, row, did or row.state == FollowUpState.OPEN, said)
    return _refused(request, row, put_off_form=form)


@door(needs=Role.MEMBER)
@require_POST
def give(request: TeamRequest, pk: int) -> HttpResponse:
    """Give a follow-up to another member."""
    row = _fetched(request, pk)
    form = GiveForm(request.POST, auto_id="give_%s", team=request.team)
    if form.is_valid():
        try:
            row, did = actions.give(
                follow_up=row,
                to=form.cleaned_data["owner"],
                expected_version=form.cleaned_data["version"],
            )
        except Refused as refused:
            form.add_error(refused.field, str(refused))
        else:
            said = f"{row.action}: {row.owner} has it now."
            return _back(request, row, did or row.state == FollowUpState.OPEN, said)
    return _refused(request, row, give_form=form)


@door(needs=Role.MEMBER)
@require_POST
def drop(request: TeamRequest, pk: int) -> HttpResponse:
    """Drop a follow-up for a reason."""
    row = _fetched(request, pk)
    form = DropForm(request.POST, auto_id="drop_%s")
    if form.is_valid():
        row, did = actions.drop(
            follow_up=row,
            member=request.member,
            now=moment.now(),
            reason=form.cleaned_data["reason"],
        )
        return _back(request, row, did, f"Dropped: {row.action}.")
    return _refused(request, row, drop_form=form)


def _fetched(request: TeamRequest, pk: int) -> FollowUp:
    return fetch(FollowUp.objects.with_all(), request.team, pk=pk)


def _back(request: TeamRequest, row: FollowUp, did: bool, said: str) -> HttpResponseRedirect:
    """Say what happened, and go back to the page of this team on which the button was."""
    if did:
        messages.success(request, said)
    else:
        messages.info(
            request, f"{row.action}: it was already {actions.what_became(row)}. Nothing changed."
        )
    back = request.POST.get("back", "")
    home = reverse("start", args=[request.team.slug])
    if back.startswith(home) and url_has_allowed_host_and_scheme(back, allowed_hosts=None):
        return redirect(back)
    return redirect("follow-up", request.team.slug, row.pk)


def _refused(request: TeamRequest, row: FollowUp, **form: Any) -> HttpResponse:
    """Show the follow-up's page with what was typed; also where only a list was to change."""
    if not request.htmx or request.htmx.boosted:
        return page(request, row, status=422, **form)
    response = page(request, row, **form)
    response["HX-Retarget"] = response["HX-Reselect"] = "#main"
    response["HX-Reswap"] = "outerHTML show:window:top"
    response["HX-Push-Url"] = reverse("follow-up", args=[request.team.slug, row.pk])
    return response
