"""A section of the results: a page, the fragment that a filter asks for, or one figure's file."""

from __future__ import annotations

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe
from django.views.decorators.vary import vary_on_headers

from pipeline.results.charts import draw
from pipeline.results.cohort import Cohort
from pipeline.results.exhibits.as_csv import as_csv
from pipeline.results.exhibits.exhibit import Exhibit
from pipeline.results.sections import BY_ADDRESS, Section, sections_for
from pipeline.results.views.asked import question
from pipeline.teams.models import Role
from pipeline.teams.tenancy import TeamRequest, door


def show(request: TeamRequest, section: Section) -> HttpResponse:
    """Show a section; with ``?as=NAME.svg`` or ``?as=NAME.csv`` hand out one of its figures."""
    asked = question(request)
    fragment = request.htmx and not (request.htmx.boosted or request.htmx.history_restore_request)
    context = {
        "here": "results",
        "section": section,
        "sections": sections_for(request.member),
        "asked": asked,
        "form": asked.form,
        "fragment": fragment,
    }
    template = "results/_figures.html" if fragment else "results/section.html"
    if asked.cohort is None:
        # htmx shows what it asked for only where that went well.
        return render(request, template, context, status=200 if fragment else 422)
    exhibits = section.build(asked.cohort, request.GET.dict())
    if "as" in request.GET:
        return as_file(request.GET["as"], exhibits, asked.cohort)
    return render(request, template, {**context, "exhibits": exhibits, "cohort": asked.cohort})


def as_file(name: str, exhibits: list[Exhibit], cohort: Cohort) -> HttpResponse:
    """Hand out the figure called ``name`` as its ending says; 404 where there is none."""
    stem, _, ending = name.partition(".")
    exhibit = next((one for one in exhibits if one.name == stem), None)
    if exhibit is None:
        raise Http404
    if ending == "csv":
        # The mark tells spreadsheets that the text is UTF-8.
        return attached("\ufeff" + as_csv(exhibit.data), "text/csv; charset=utf-8", cohort, name)
    if ending == "svg" and exhibit.chart is not None:
        return attached(draw.alone(exhibit.chart), "image/svg+xml", cohort, name)
    raise Http404


def attached(content: str | bytes, kind: str, cohort: Cohort, name: str) -> HttpResponse:
    """Return a file to keep, named after what it shows, the team and the day."""
    stem, _, ending = name.rpartition(".")
    file = f"{stem}-{cohort.team.slug}-{cohort.as_of.isoformat()}.{ending}"
    return HttpResponse(
        content,
        content_type=kind,
        headers={"Content-Disposition": f'attachment; filename="{file}"'},
    )


@door()
@require_safe
@vary_on_headers("HX-Request")
def page(request: TeamRequest, *, address: str) -> HttpResponse:
    """Show the section of an address, to all members."""
    return show(request, BY_ADDRESS[address])


@door(needs=Role.OWNER)
@require_safe
@vary_on_headers("HX-Request")
def owners_page(request: TeamRequest, *, address: str) -> HttpResponse:
    """Show a section that only owners may read."""
    return show(request, BY_ADDRESS[address])
