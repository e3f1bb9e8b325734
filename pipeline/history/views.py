"""What was changed in a row: a page of its own, and the part that the row's page fetches."""

from __future__ import annotations

from django.apps import apps
from django.conf import settings
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from pipeline.teams.tenancy import TeamRequest, door

from .models import Change
from .reading import in_words

A_PAGE = 50


@door()
@require_safe
def changes(request: TeamRequest, name: str) -> HttpResponse:
    """Show the changes of one row, named like ``leads.lead-12``; of a removed one too."""
    label, _, key = name.rpartition("-")
    if label not in settings.HISTORY or not (key.isascii() and key.isdecimal()):
        raise Http404
    pk = int(key[:18])
    model = apps.get_model(label)
    row = model._base_manager.filter(team=request.team, pk=pk).first()
    rows = Change.objects.for_team(request.team).filter(table=model._meta.db_table, row=pk)
    if row is None and not rows.exists():
        raise Http404
    page = Paginator(rows.newest_first(), A_PAGE).get_page(request.GET.get("page"))
    context = {
        "here": "leads",
        "row": row,
        "kind": model._meta.verbose_name,
        "page": page,
        "entries": in_words(page.object_list),
        "back": row.get_absolute_url() if hasattr(row, "get_absolute_url") else "",
        "address": request.path,
    }
    template = "history/_changes.html" if request.htmx else "history/changes.html"
    return render(request, template, context)
