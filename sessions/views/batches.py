"""All takeaways of a month: ask for them, watch how far they are, take them away."""

from __future__ import annotations

import tempfile
import zipfile
from typing import Any

from django.http import FileResponse, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from pipeline.clock import moment
from pipeline.teams.pages import new_page
from pipeline.teams.tenancy import TeamRequest, door, fetch
from sessions.models import Batch, BatchItem
from sessions.takeaways.batches import ask, progress_of
from sessions.takeaways.characters import named
from sessions.takeaways.forms import MonthForm

SHOWN = 24
IN_MEMORY = 8 * 1024 * 1024


@door()
@require_http_methods(["GET", "HEAD", "POST"])
def takeaways(request: TeamRequest) -> HttpResponse:
    """Ask for a month's takeaways; list what was asked for before."""
    now = moment.now()
    asked = Batch.objects.for_team(request.team).select_related("asked_by__user")

    def work(form: MonthForm) -> str:
        batch = ask(
            team=request.team, member=request.member, now=now, month=form.cleaned_data["month"]
        )
        return reverse("batch", args=[request.team.slug, batch.pk])

    return new_page(
        request,
        form=MonthForm(
            request.POST if request.method == "POST" else None,
            initial={"month": request.team.today(now)},
        ),
        now=now,
        work=work,
        done="The takeaways are asked for.",
        template="sessions/takeaways/batches.html",
        here="sessions",
        batches=list(asked[:SHOWN]),
    )


def _items(batch: Batch) -> list[BatchItem]:
    rows: Any = BatchItem.objects.filter(batch=batch).with_given_up()
    return list(rows.select_related("session__lead"))


@door()
@require_safe
def batch(request: TeamRequest, pk: int) -> HttpResponse:
    """Tell how far a batch has come."""
    found = fetch(Batch.objects.select_related("asked_by__user"), request.team, pk=pk)
    items = _items(found)
    context = {
        "here": "sessions",
        "batch": found,
        "items": [(item, named(item.missing)) for item in items],
        "progress": progress_of(items),
    }
    part = request.htmx and not request.htmx.boosted
    name = "_progress.html" if part else "batch.html"
    return render(request, f"sessions/takeaways/{name}", context)


@door()
@require_safe
def batch_zip(request: TeamRequest, pk: int) -> HttpResponseBase:
    """Hand out what is set, in one archive."""
    found = fetch(Batch.objects.all(), request.team, pk=pk)
    ready = [item for item in _items(found) if item.done_at is not None]
    if not ready:
        return redirect("batch", request.team.slug, found.pk)
    archive = tempfile.SpooledTemporaryFile(max_size=IN_MEMORY)  # noqa: SIM115
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_STORED) as whole:
        for number, item in enumerate(ready, start=1):
            try:
                with item.file.open("rb") as file:
                    whole.writestr(f"{number:03} {item.file_name}", file.read())
            except FileNotFoundError:
                continue
    archive.seek(0)
    return FileResponse(
        archive,
        as_attachment=True,
        filename=f"takeaways-{found.month:%Y-%m}.zip",
        content_type="application/zip",
        headers={"Cache-Control": "private, no-store", "X-Content-Type-Options": "nosniff"},
    )
