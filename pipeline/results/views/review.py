"""The review of three months: a page, and the same with its figures as a PDF."""

from __future__ import annotations

from datetime import timedelta

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.module_loading import import_string
from django.views.decorators.http import require_safe

from pipeline.clock import moment
from pipeline.results.cohort import Cohort
from pipeline.results.forms import AsOfForm
from pipeline.results.quarter import three_months_to
from pipeline.results.sections import sections_for
from pipeline.results.views.section import attached
from pipeline.teams.tenancy import TeamRequest, door

# Named, not imported: NumPy and the typesetter are loaded by who asks for a review.
READ = "pipeline.results.review.reading.read"
REVIEW = "pipeline.results.review.building.review_of"
EXHIBITS = "pipeline.results.review.building.exhibits_of"
PDF = "pipeline.results.pdf.review_pdf"


@door()
@require_safe
def page(request: TeamRequest) -> HttpResponse:
    """Show the three months to a day; with ``?as=pdf`` hand them out as a document."""
    today = request.team.today(moment.now())
    form = AsOfForm(request.GET or None, initial={"as_of": today})
    context = {"here": "results", "form": form, "sections": sections_for(request.member)}
    if form.is_bound and not form.is_valid():
        return render(request, "results/review.html", context, status=422)
    as_of = (form.cleaned_data["as_of"] if form.is_bound else None) or today
    reading = import_string(READ)(Cohort(request.team, as_of))
    review = import_string(REVIEW)(reading)
    if request.GET.get("as") == "pdf":
        exhibits = import_string(EXHIBITS)(reading) if reading.begun else []
        content = import_string(PDF)(review, exhibits, team=request.team.name)
        return attached(content, "application/pdf", reading.cohort, "review.pdf")
    first = three_months_to(as_of)
    return render(
        request,
        "results/review.html",
        {
            **context,
            "review": review,
            "begun": reading.begun,
            "ahead": as_of > today,
            "before": first - timedelta(days=1) if first.toordinal() > 1 else None,
        },
    )
