"""A step of the plan: a new one, a changed one, one that goes."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from pipeline.clock import moment
from pipeline.followups import editing
from pipeline.followups.models import PlanStep
from pipeline.followups.plan_forms import NewStepForm, RemoveForm, StepForm
from pipeline.teams.models import Role, Stale
from pipeline.teams.pages import edit_page, new_page
from pipeline.teams.tenancy import TeamRequest, door, fetch


@door(needs=Role.MEMBER)
@require_http_methods(["GET", "HEAD", "POST"])
def plan_step_new(request: TeamRequest) -> HttpResponse:
    """Add a step to the plan."""
    now = moment.now()
    form = NewStepForm(request.POST or None, initial={"trigger": request.GET.get("after")})

    def work(form: NewStepForm) -> str:
        editing.add_step(step=form.instance, team=request.team, member=request.member, now=now)
        return reverse("plan-changes", args=[request.team.slug])

    return new_page(
        request,
        form=form,
        now=now,
        work=work,
        done="The step is part of the plan.",
        here="team",
        heading="New step",
        about="Follow-up plan",
        back=reverse("plan", args=[request.team.slug]),
        button="Add it",
    )


@door(needs=Role.MEMBER)
@require_http_methods(["GET", "HEAD", "POST"])
def plan_step(request: TeamRequest, pk: int) -> HttpResponse:
    """Change a step of the plan, whichever edition it was opened in."""
    now = moment.now()
    opened = _opened(request, pk)
    step = editing.current_of(opened)
    if step is None and request.method != "POST":
        messages.info(request, f"“{opened}” is no longer part of the plan.")
        return redirect("plan", request.team.slug)
    step = step or opened
    step.team = request.team
    form = StepForm(request.POST or None, instance=step)

    def work(form: StepForm, version: int) -> str | None:
        changed = editing.change_step(
            step=form.instance, member=request.member, now=now, expected_version=version
        )
        return None if changed else "The plan says so already."

    return edit_page(
        request,
        form=form,
        work=work,
        done="The plan is changed.",
        url=reverse("plan-changes", args=[request.team.slug]),
        template="followups/plan_step.html",
        here="team",
        heading=opened.action,
        step=step,
        version=form.initial["version"],
        back=reverse("plan", args=[request.team.slug]),
    )


@door(needs=Role.MEMBER)
@require_POST
def plan_step_remove(request: TeamRequest, pk: int) -> HttpResponse:
    """Take a step out of the plan; the earlier plan can be put back."""
    step = _opened(request, pk)
    form = RemoveForm(request.POST)
    try:
        if not form.is_valid():
            raise Stale(step)
        editing.remove_step(
            step=step,
            member=request.member,
            now=moment.now(),
            expected_version=form.cleaned_data["version"],
        )
    except Stale:
        if editing.current_of(step) is None:
            messages.info(request, f"“{step}” is no longer part of the plan.")
            return redirect("plan", request.team.slug)
        messages.error(request, "Somebody changed this step meanwhile. Look at it first.")
        return redirect("plan-step", request.team.slug, pk)
    messages.success(request, f"“{step}” is no longer part of the plan.")
    return redirect("plan-changes", request.team.slug)


def _opened(request: TeamRequest, pk: int) -> PlanStep:
    step = fetch(PlanStep.objects.all(), request.team, pk=pk)
    step.team = request.team
    return step
