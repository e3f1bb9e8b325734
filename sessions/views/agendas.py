"""Formats as a team edits them: new, copied, changed, retired, compared."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from pipeline.clock import moment
from pipeline.teams.models import Role, Stale
from pipeline.teams.once import do_once
from pipeline.teams.refused import Refused
from pipeline.teams.tenancy import TeamRequest, door, fetch
from sessions.agendas.comparing import compare
from sessions.agendas.draft import draft_of
from sessions.agendas.forms import AgendaForms
from sessions.agendas.saving import Seen, amend, bring_back, make, retire, seen, used
from sessions.models import Format

TEMPLATE = "sessions/agendas/edit.html"


def _with_agenda() -> QuerySet[Format, Any]:
    rows: QuerySet[Format, Any] = Format.objects.with_agenda()
    return rows


@door(needs=Role.MEMBER)
@require_http_methods(["GET", "HEAD", "POST"])
def format_new(request: TeamRequest) -> HttpResponse:
    """Write a format from nothing, or from a copy of another (``?from=``)."""
    context: dict[str, Any] = {"heading": "New format", "button": "Store the format"}
    if request.method != "POST":
        draft = None
        copied = request.GET.get("from", "")
        if copied.isascii() and copied.isdecimal() and len(copied) < 19:
            draft = draft_of(fetch(_with_agenda(), request.team, pk=int(copied)))
            context["heading"] = f"A copy of {draft.name}: give it a name of its own"
        return _show(request, AgendaForms.of(draft), **context)
    if (action := request.POST.get("do", "save")) != "save":
        return _show(request, AgendaForms.after(request.POST, action), unsaved=True, **context)
    forms = AgendaForms.posted(request.POST)
    if forms.is_valid():
        try:
            url, first = do_once(
                team=request.team,
                key=forms.head.cleaned_data["submission"],
                now=moment.now(),
                work=lambda: _page(make(team=request.team, draft=forms.draft())),
            )
        except Refused as refused:
            forms.head.add_error(refused.field, str(refused))
        else:
            said = "The format is stored."
            messages.success(request, said if first else f"Already done, once. {said}")
            return redirect(url)
    return _show(request, forms, status=422, **context)


@door(needs=Role.MEMBER)
@require_http_methods(["GET", "HEAD", "POST"])
def format_edit(request: TeamRequest, pk: int) -> HttpResponse:
    """Change a format: in place while it is unused, else as its next version."""
    row = fetch(_with_agenda(), request.team, pk=pk)
    was_used = used(row)
    context = {
        "heading": f"Change {row}",
        "format": row,
        "used": was_used,
        "button": "Store as the next version" if was_used else "Store the format",
    }
    if request.method != "POST":
        return _show(request, AgendaForms.of(draft_of(row), str(seen(row))), **context)
    if (action := request.POST.get("do", "save")) != "save":
        return _show(request, AgendaForms.after(request.POST, action), unsaved=True, **context)
    forms = AgendaForms.posted(request.POST)
    if forms.is_valid():
        try:
            stored = amend(
                format=row,
                draft=forms.draft(),
                expected=Seen.read(forms.head.cleaned_data["seen"]),
                now=moment.now(),
            )
        except Refused as refused:
            forms.head.add_error(refused.field, str(refused))
        except Stale:
            return _conflict(request, row, context)
        else:
            next_one = stored.pk != row.pk
            messages.success(
                request,
                f"Stored as version {stored.version}; sessions booked before keep theirs."
                if next_one
                else "The format is stored.",
            )
            return redirect(_page(stored))
    return _show(request, forms, status=422, **context)


def _conflict(request: TeamRequest, row: Format, context: dict[str, Any]) -> HttpResponse:
    """Show what somebody else stored beside what was typed, which may then be stored over it."""
    newest = _with_agenda().filter(team=request.team, name=row.name).order_by("version").last()
    theirs = newest or row
    data = request.POST.copy()
    data["seen"] = str(Seen(theirs.version, Format.objects.get(pk=row.pk).revision))
    forms = AgendaForms.posted(data)
    forms.is_valid()
    pairs = compare(draft_of(theirs), forms.draft())
    return _show(request, forms, status=409, theirs=theirs, pairs=pairs, **context)


def _show(
    request: TeamRequest, forms: AgendaForms, *, status: int = 200, **context: Any
) -> HttpResponse:
    context |= {"here": "sessions", "forms": forms}
    return render(request, TEMPLATE, context, status=status)


def _page(row: Format) -> str:
    return reverse("format", args=[row.team.slug, row.pk])


@door(needs=Role.MEMBER)
@require_POST
def format_retire(request: TeamRequest, pk: int) -> HttpResponse:
    """Take a format from booking; the second click changes nothing."""
    row = fetch(Format.objects.select_related("team"), request.team, pk=pk)
    done = retire(format=row, now=moment.now())
    messages.success(
        request, f"{row} is no longer booked." if done else f"{row} was retired already."
    )
    return redirect(_page(row))


@door(needs=Role.MEMBER)
@require_POST
def format_bring_back(request: TeamRequest, pk: int) -> HttpResponse:
    """Let a retired format be booked again; the second click changes nothing."""
    row = fetch(Format.objects.select_related("team"), request.team, pk=pk)
    try:
        done = bring_back(format=row)
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        said = "can be booked again." if done else "was booked already."
        messages.success(request, f"{row} {said}")
    return redirect(_page(row))


@door()
@require_safe
def format_compare(request: TeamRequest, pk: int) -> HttpResponse:
    """Show a version beside another of the same name: ``?with=``, else the one before it."""
    row = fetch(_with_agenda(), request.team, pk=pk)
    versions = list(_with_agenda().filter(team=request.team, name=row.name).order_by("version"))
    chosen = request.GET.get("with", "")
    earlier = [version for version in versions if version.version < row.version]
    other = next((v for v in versions if str(v.pk) == chosen), None) or (
        earlier[-1] if earlier else versions[-1]
    )
    before, after = sorted((other, row), key=lambda version: version.version)
    return render(
        request,
        "sessions/agendas/compare.html",
        {
            "here": "sessions",
            "format": row,
            "versions": versions,
            "other": other,
            "before": before,
            "after": after,
            "agendas": (draft_of(before).agenda, draft_of(after).agenda),
            "pairs": compare(draft_of(before), draft_of(after)),
        },
    )
