"""After the hour: the short form, the write-up, the lane chart."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from pipeline.clock import moment
from pipeline.teams.models import Role, Stale
from pipeline.teams.pages import edit_page
from pipeline.teams.refused import Refused
from pipeline.teams.tenancy import TeamRequest, door, fetch
from sessions.models import AfterHour, DiscoverySession, LaneChart, WriteUp
from sessions.takeaways.chart import MOST_LANES
from sessions.takeaways.chart_forms import ChartForms
from sessions.takeaways.forms import AfterHourForm, WriteUpForm
from sessions.takeaways.harvest import chart_of, harvest
from sessions.takeaways.writing import draw, note_after_hour
from sessions.takeaways.writing import write_up as store

FIELDS = ("challenge", "goal", "opportunities", "next_steps")


def session_at(request: TeamRequest, pk: int) -> DiscoverySession:
    """Return a session with everything at hand that its later pages show."""
    rows = DiscoverySession.objects.with_names().select_related("team")
    return fetch(rows.prefetch_related("attendees"), request.team, pk=pk)


def about(found: DiscoverySession) -> dict[str, Any]:
    """Return what the pages after the hour have in common."""
    return {
        "here": "sessions",
        "session": found,
        "about": f"{found.lead}: {found.format or 'session'}",
    }


@door(needs=Role.MEMBER)
@require_http_methods(["GET", "HEAD", "POST"])
def after_hour(request: TeamRequest, pk: int) -> HttpResponse:
    """Say who came, who decides, whether there is money, and what they asked for."""
    found, now = session_at(request, pk), moment.now()
    row = AfterHour.objects.filter(session=found).first()
    row = row or AfterHour(team=request.team, session=found)
    row.session = found

    def work(form: AfterHourForm, version: int) -> None:
        data = {name: form.cleaned_data[name] for name in AfterHourForm.field_order}
        try:
            note_after_hour(
                session=found, member=request.member, now=now, expected_version=version, **data
            )
        except Stale as stale:
            form.instance.pk = stale.row.pk
            raise

    return edit_page(
        request,
        form=AfterHourForm(request.POST if request.method == "POST" else None, instance=row),
        work=work,
        done="Noted. Now write up what they get back.",
        url=reverse("write-up", args=[request.team.slug, found.pk]),
        heading="After the hour",
        lede="For the team alone: nothing of this goes into the takeaway. "
        "What the format promises is due once they came.",
        **about(found),
    )


@door()
@require_http_methods(["GET", "HEAD", "POST"])
def write_up(request: TeamRequest, pk: int) -> HttpResponse:
    """Show everything that goes into the takeaway; who writes may put it into words."""
    found = session_at(request, pk)
    read = harvest(found)
    row = WriteUp.objects.filter(pk=read.write_up.pk).first() or WriteUp(
        team=request.team, session=found
    )

    def work(form: WriteUpForm, version: int) -> None:
        data = {name: form.cleaned_data[name] for name in FIELDS}
        try:
            store(session=found, expected_version=version, **data)
        except Stale as stale:
            form.instance.pk = stale.row.pk
            raise

    owed = found.deliverables.select_related("owner__user")
    return edit_page(
        request,
        form=WriteUpForm(request.POST if request.method == "POST" else None, instance=row),
        work=work,
        done="The write-up is stored.",
        url=reverse("write-up", args=[request.team.slug, found.pk]),
        template="sessions/takeaways/write_up.html",
        harvest=read,
        chart=read.chart,
        promised=list(owed),
        today=request.team.today(moment.now()),
        **about(found),
    )


@door(needs=Role.MEMBER)
@require_http_methods(["GET", "HEAD", "POST"])
def lane_chart(request: TeamRequest, pk: int) -> HttpResponse:
    """Edit the lane chart as a table; the program draws it."""
    found = session_at(request, pk)
    if request.method != "POST":
        row = LaneChart.objects.filter(session=found).first()
        fresh = ChartForms.of(chart_of(found), row.version if row else 1)
        return _show(request, found, fresh)
    if (action := request.POST.get("do", "save")) != "save":
        return _show(request, found, ChartForms.after(request.POST, action), unsaved=True)
    forms = ChartForms.posted(request.POST)
    refused = ""
    if forms.is_valid():
        version = forms.head.cleaned_data["version"]
        try:
            draw(session=found, expected_version=version, steps=forms.drafts())
        except Refused as error:
            refused = str(error)
        except Stale as stale:
            return _conflict(request, found, forms, stale)
        else:
            messages.success(request, "The lane chart is stored.")
            return redirect("write-up", request.team.slug, found.pk)
    return _show(request, found, forms, status=422, refused=refused)


def _conflict(
    request: TeamRequest, found: DiscoverySession, forms: ChartForms, stale: Stale
) -> HttpResponse:
    """Show what somebody else stored beside what was typed, which may then be stored over it."""
    stored = chart_of(found)
    if stored == forms.chart:
        # Most likely the second click on one button.
        messages.success(request, "This was stored already, just as you wrote it.")
        return redirect("write-up", request.team.slug, found.pk)
    data = request.POST.copy()
    data["version"] = str(LaneChart.objects.get(pk=stale.row.pk).version)
    again = ChartForms.posted(data)
    again.is_valid()
    return _show(request, found, again, status=409, stored=stored)


def _show(
    request: TeamRequest,
    found: DiscoverySession,
    forms: ChartForms,
    *,
    status: int = 200,
    **context: Any,
) -> HttpResponse:
    context |= {"forms": forms, "chart": forms.chart, "most_lanes": MOST_LANES, **about(found)}
    return render(request, "sessions/takeaways/lane_chart.html", context, status=status)
