"""Pages of how long people are kept: the period, who would go, and the button."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from pipeline.clock import moment
from pipeline.teams.models import Role, Team
from pipeline.teams.pages import edit_page, new_page
from pipeline.teams.tenancy import TeamRequest, door

from .forms import EraseLapsedForm, RetentionForm
from .retention import erase_lapsed, lapsed, progress, seen

GET_AND_POST = ["GET", "HEAD", "POST"]


@door(needs=Role.OWNER)
@require_safe
def retention(request: TeamRequest) -> HttpResponse:
    """List who would be erased now, and why; nothing is erased."""
    found = lapsed(request.team, moment.now())
    form = EraseLapsedForm(initial={"seen": seen(found)})
    return render(request, "rights/retention.html", _shown(request, found) | {"form": form})


@door(needs=Role.OWNER)
@require_http_methods(GET_AND_POST)
def retention_period(request: TeamRequest) -> HttpResponse:
    """Set after how many months people are to be erased."""
    stored = Team.objects.get(pk=request.team.pk)

    def work(form: RetentionForm, version: int) -> None:
        form.save(commit=False).save_version(version)

    return edit_page(
        request,
        form=RetentionForm(request.POST if request.method == "POST" else None, instance=stored),
        work=work,
        done="The period is saved. Nobody is erased until you say so below the list.",
        url=reverse("retention", args=[request.team.slug]),
        here="team",
        heading="How long people are kept",
        lede="Local law decides how long you may, and must, keep what.",
    )


@door(needs=Role.OWNER)
@require_http_methods(GET_AND_POST)
def retention_erase(request: TeamRequest) -> HttpResponse:
    """Erase everybody on the list, as it was read."""
    now = moment.now()
    found = lapsed(request.team, now)
    form = EraseLapsedForm(
        request.POST if request.method == "POST" else None, initial={"seen": seen(found)}
    )

    def work(form: EraseLapsedForm) -> str:
        erase_lapsed(
            team=request.team, member=request.member, now=now, as_seen=form.cleaned_data["seen"]
        )
        return reverse("retention", args=[request.team.slug])

    return new_page(
        request,
        form=form,
        now=now,
        work=work,
        done="They are being erased, one after the other. This page says how far it has come.",
        template="rights/retention.html",
        **_shown(request, found),
    )


def _shown(request: TeamRequest, found: list[Any]) -> dict[str, Any]:
    return {
        "here": "team",
        "months": request.team.retention_months,
        "found": found,
        "progress": progress(request.team),
    }
