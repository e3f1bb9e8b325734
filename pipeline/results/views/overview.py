"""The first page of results, which also hands out every figure as JSON."""

from __future__ import annotations

from django.http import HttpResponse
from django.utils.module_loading import import_string
from django.views.decorators.http import require_safe
from django.views.decorators.vary import vary_on_headers

from pipeline.results.as_json import as_json
from pipeline.results.sections import BY_ADDRESS
from pipeline.results.views.asked import question
from pipeline.results.views.section import attached, show
from pipeline.teams.models import Role
from pipeline.teams.tenancy import TeamRequest, door


@door()
@require_safe
@vary_on_headers("HX-Request")
def page(request: TeamRequest) -> HttpResponse:
    """Show what came of the sessions; with ``?as=json`` hand all figures out as a file."""
    if request.GET.get("as") == "json" and (cohort := question(request).cohort):
        # Named, not imported: NumPy is loaded by who asks for figures.
        results = import_string("pipeline.results.figures.results.results")
        work = import_string("pipeline.results.figures.work.work")
        told = work(cohort, with_crew=request.member.may(Role.OWNER))
        content = as_json(request.team.slug, results(cohort), told)
        return attached(content, "application/json", cohort, "results.json")
    return show(request, BY_ADDRESS["results"])
