"""The results page, and its figures as JSON."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from pipeline.clock import moment
from pipeline.results import words
from pipeline.results.as_json import as_json
from pipeline.results.chart import side_by_side
from pipeline.results.forms import AsOfForm
from pipeline.results.questions import facts_as_of
from pipeline.teams.tenancy import TeamRequest, door


@door()
@require_safe
def page(request: TeamRequest) -> HttpResponse:
    """Show the team's figures as of a day; with ``?as=json`` hand them out as a file."""
    today = request.team.today(moment.now())
    form = AsOfForm(request.GET or None, initial={"as_of": today})
    if form.is_bound and not form.is_valid():
        context = {"form": form, "here": "results"}
        return render(request, "results/page.html", context, status=422)
    as_of = (form.cleaned_data["as_of"] if form.is_bound else None) or today

    # NumPy takes longer to load than all the rest; a start that shows no figures goes without.
    from pipeline.results.compute import results

    found = results(facts_as_of(request.team, as_of), as_of)
    if request.GET.get("as") == "json":
        name = f"results-{request.team.slug}-{as_of.isoformat()}.json"
        return HttpResponse(
            as_json(request.team.slug, found),
            content_type="application/json",
            headers={"Content-Disposition": f'attachment; filename="{name}"'},
        )
    context = {
        "form": form,
        "results": found,
        "chart": side_by_side(found.formats),
        "words": words,
        "ahead": as_of > today,
        "here": "results",
    }
    return render(request, "results/page.html", context)
