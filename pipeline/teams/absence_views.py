"""Pages of absences: enter, correct, remove."""

from __future__ import annotations

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from pipeline.clock import moment

from . import absences
from .absence_forms import AbsenceForm, NewAbsence
from .forms import OnceForm
from .models import Absence, Role
from .pages import edit_page, new_page
from .templatetags.show import span
from .tenancy import TeamRequest, door, fetch

GET_AND_POST = ["GET", "HEAD", "POST"]


@door(needs=Role.MEMBER)
@require_http_methods(GET_AND_POST)
def new(request: TeamRequest) -> HttpResponse:
    """Enter an absence: one's own, or as an owner anybody's."""

    def work(form: NewAbsence) -> str:
        typed = {name: v for name, v in form.cleaned_data.items() if name != "submission"}
        absences.enter(**{"member": request.member} | typed)
        return _list(request)

    return new_page(
        request,
        form=NewAbsence(request.POST if request.method == "POST" else None, by=request.member),
        now=moment.now(),
        work=work,
        done="The absence is entered.",
        heading="Enter an absence",
        lede="Meanwhile the stand-in sees the work as their own, and no digest, review, reminder "
        "or note goes to whoever is away.",
        about=request.team.name,
        back=_list(request),
        here="team",
    )


@door(needs=Role.MEMBER)
@require_http_methods(GET_AND_POST)
def edit(request: TeamRequest, pk: int) -> HttpResponse:
    """Correct an absence."""
    absence = fetch(Absence.objects.with_names(), request.team, pk=pk)
    _allow(request, absence)

    def work(form: AbsenceForm, version: int) -> None:
        absences.amend(absence=form.save(commit=False), expected_version=version)

    return edit_page(
        request,
        form=AbsenceForm(
            request.POST if request.method == "POST" else None,
            instance=absence,
            team=request.team,
        ),
        work=work,
        done="The absence is changed.",
        url=_list(request),
        heading=f"Change when {absence.member} is away",
        about=request.team.name,
        here="team",
    )


@door(needs=Role.MEMBER)
@require_http_methods(GET_AND_POST)
def remove(request: TeamRequest, pk: int) -> HttpResponse:
    """Remove an absence after a question; clicked twice, it removes once."""
    absence = Absence.objects.for_team(request.team).with_names().filter(pk=pk).first()
    form = OnceForm(request.POST if request.method == "POST" else None)
    if absence is None and not form.is_valid():
        raise Http404
    if absence is not None:
        _allow(request, absence)

    def work(form: OnceForm) -> str:
        # reached without a row only by a form that was never received
        if absence is None:
            raise Http404
        absences.remove(absence=absence)
        return _list(request)

    days = span(absence.first_day, absence.last_day) if absence else ""
    return new_page(
        request,
        form=form,
        now=moment.now(),
        work=work,
        done="The absence is removed.",
        heading="Remove the absence?",
        lede=f"{absence}: {days}. Their work is their own on these days again." if absence else "",
        button="Remove it",
        about=request.team.name,
        back=_list(request),
        here="team",
    )


def _list(request: TeamRequest) -> str:
    return reverse("team", args=[request.team.slug]) + "#away"


def _allow(request: TeamRequest, absence: Absence) -> None:
    if not absences.may_change(request.member, absence):
        raise PermissionDenied
