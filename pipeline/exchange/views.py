"""Import and export in the browser: hand in a sheet, see what would happen, take it in."""

from __future__ import annotations

import io

from django.contrib import messages
from django.http import HttpResponse, StreamingHttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from pipeline.clock import moment
from pipeline.teams.models import Role
from pipeline.teams.pages import new_page
from pipeline.teams.tenancy import TeamRequest, door, fetch

from .columns import COLUMNS
from .forms import SheetForm, UnsentForm
from .handing_in import keep_sheet, take_sheet_in
from .left_out import left_out
from .models import Sheet
from .reading import read
from .rejected import write_rejects
from .report import told
from .taking_in import look_through, rejects
from .unsent import keep_owed, old_unsent, waive_all
from .writing import sheet_lines

# Of a long list so many are shown.
SHOWN = 25
SHOWN_UNSENT = 500


@door()
@require_http_methods(["GET", "HEAD", "POST"])
def sheets(request: TeamRequest) -> HttpResponse:
    """Hand in a sheet; the earlier ones; and the way out, as a sheet."""
    now = moment.now()
    posted = request.method == "POST"
    form = SheetForm(request.POST if posted else None, request.FILES if posted else None)

    def work(form: SheetForm) -> str:
        sheet = keep_sheet(
            team=request.team,
            member=request.member,
            now=now,
            name=form.name,
            content=form.content,
        )
        return reverse("sheet", args=[request.team.slug, sheet.pk])

    rows = Sheet.objects.for_team(request.team).with_names().without_content()
    earlier = rows.order_by("-pk")
    return new_page(
        request,
        form=form,
        now=now,
        work=work,
        done="The sheet is here. Nothing is stored as a lead yet: see what would happen.",
        template="exchange/sheets.html",
        here="leads",
        sheets=list(earlier[:SHOWN]),
        columns=COLUMNS,
        left_out=left_out(request.team),
        unsent=old_unsent(request.team).count(),
    )


@door()
@require_safe
def sheet(request: TeamRequest, pk: int) -> HttpResponse:
    """Show what would happen to a sheet, or what did."""
    found = fetch(Sheet.objects.with_names(), request.team, pk=pk)
    table = read(bytes(found.content))
    context = {"here": "leads", "sheet": found}
    if found.taken_in_at:
        counts = found.report
        day = request.team.today(found.taken_in_at)
        bad = rejects(team=request.team, table=table, today=day)
        context["unsent"] = old_unsent(request.team).count()
    else:
        report = look_through(team=request.team, table=table, now=moment.now())
        counts, bad = report.as_json(), report.rejects
        context["nothing_new"] = not (report.leads_new or report.leads_changed)
        context["owed"] = report.unsent[:SHOWN]
    return render(
        request,
        "exchange/sheet.html",
        {**context, "words": told(counts), "counts": counts, "rejects": bad[:SHOWN]},
    )


@door(needs=Role.MEMBER)
@require_POST
def sheet_take_in(request: TeamRequest, pk: int) -> HttpResponse:
    """Take a sheet in, once."""
    found = fetch(Sheet.objects.all(), request.team, pk=pk)
    taken, first = take_sheet_in(sheet=found, member=request.member, now=moment.now())
    if first:
        messages.success(request, f"{taken.name} is taken in. Nothing was sent to anybody.")
    else:
        messages.info(request, f"{taken.name} was already taken in; nothing was done again.")
    return redirect("sheet", request.team.slug, pk)


@door()
@require_safe
def sheet_rejects(request: TeamRequest, pk: int) -> HttpResponse:
    """Download the rejected rows, with what would be right."""
    found = fetch(Sheet.objects.all(), request.team, pk=pk)
    table = read(bytes(found.content))
    day = request.team.today(found.taken_in_at or moment.now())
    out = io.StringIO(newline="")
    write_rejects(out, table, rejects(team=request.team, table=table, today=day))
    return HttpResponse(
        out.getvalue(),
        content_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": 'attachment; filename="rejects.csv"'},
    )


@door()
@require_http_methods(["GET", "HEAD", "POST"])
def unsent(request: TeamRequest) -> HttpResponse:
    """Old deliverables that a sheet brought unsent: one answer to all."""
    now = moment.now()
    rows = list(old_unsent(request.team).select_related("lead", "session")[:SHOWN_UNSENT])
    last = old_unsent(request.team).order_by("-pk").values_list("pk", flat=True).first() or 0
    form = UnsentForm(request.POST if request.method == "POST" else None, initial={"up_to": last})
    if request.method == "POST" and form.is_valid():
        up_to = form.cleaned_data["up_to"]
        if form.cleaned_data["answer"] == "keep":
            count = keep_owed(team=request.team, up_to=up_to)
            done = f"Kept as owed: {count}."
        else:
            reason = form.cleaned_data["reason"]
            count = waive_all(
                team=request.team, member=request.member, now=now, reason=reason, up_to=up_to
            )
            done = f"Waived: {count}."
        messages.success(request, done if count else "These were answered already.")
        return redirect("unsent", request.team.slug)
    return render(
        request,
        "exchange/unsent.html",
        {
            "here": "leads",
            "form": form,
            "deliverables": rows,
            "count": len(rows) if len(rows) < SHOWN_UNSENT else old_unsent(request.team).count(),
            "today": request.team.today(now),
        },
        status=422 if form.is_bound else 200,
    )


@door()
@require_safe
def export(request: TeamRequest) -> StreamingHttpResponse:
    """Download the team's leads as a sheet."""
    day = request.team.today(moment.now())
    name = f"leads-{request.team.slug}-{day}.csv"
    return StreamingHttpResponse(
        sheet_lines(request.team),
        content_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )
