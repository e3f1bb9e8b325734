"""What could not be sent or done, shown to a team's owner."""

from __future__ import annotations

from django.conf import settings
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST, require_safe

from pipeline.claims.waking import wake
from pipeline.clock import moment
from pipeline.jobs.models import Job
from pipeline.teams.models import Role
from pipeline.teams.tenancy import TeamRequest, door, fetch

from .failures import failures, in_words, try_all_again

NOTHING = "Nothing is waiting to be tried again. Nothing was changed."


@door(needs=Role.OWNER)
@require_safe
def failed(request: TeamRequest) -> HttpResponse:
    """List letters and other due work that failed, and why."""
    return render(
        request,
        "watching/failed.html",
        {
            "here": "team",
            "failures": failures(request.team),
            "now": moment.now(),
            "sends": settings.MAIL_SERVER is not None,
        },
    )


@door(needs=Role.OWNER)
@require_POST
def all_again(request: TeamRequest) -> HttpResponse:
    """Have all that was given up tried anew."""
    letters, jobs = try_all_again(team=request.team, now=moment.now())
    if letters or jobs:
        messages.success(request, f"Tried again now: {in_words(letters, jobs)}.")
    else:
        messages.info(request, NOTHING)
    return redirect("failed", request.team.slug)


@door(needs=Role.OWNER)
@require_POST
def job_again(request: TeamRequest, pk: int) -> HttpResponse:
    """Have one piece of work tried anew."""
    job = fetch(Job.objects.all(), request.team, pk=pk)
    if Job.objects.filter(pk=job.pk).revive(now=moment.now()):
        wake()
        messages.success(request, f"Tried again now: {job.kind}.")
    else:
        messages.info(request, NOTHING)
    return redirect("failed", request.team.slug)
