"""A team's own look at its public page, and its settings."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from pipeline.teams.models import Role
from pipeline.teams.pages import edit_page
from pipeline.teams.tenancy import TeamRequest, door

from .forms import EnquiryPageForm
from .models import Enquiry, EnquiryPage


@door()
@require_safe
def enquiry_page(request: TeamRequest) -> HttpResponse:
    """Show whether the page is open, where it is, what it says, and what came by it."""
    page = EnquiryPage.objects.for_team(request.team).first()
    enquiries = Enquiry.objects.for_team(request.team).order_by("-received_at", "-pk")
    context = {
        "here": "team",
        "page": page,
        "address": settings.BASE_URL + reverse("enquire", args=[request.team.slug]),
        "count": enquiries.count(),
        "newest": enquiries.select_related("lead")[:5],
    }
    return render(request, "enquiries/page.html", context)


@door(needs=Role.OWNER)
@require_http_methods(["GET", "HEAD", "POST"])
def enquiry_page_edit(request: TeamRequest) -> HttpResponse:
    """Open, close and word the page."""
    posted = request.method == "POST"
    row = EnquiryPage.objects.for_team(request.team).first() or EnquiryPage(team=request.team)
    if posted and row.pk is None:
        row, _ = EnquiryPage.objects.get_or_create(team=request.team)

    def work(form: EnquiryPageForm, version: int) -> str:
        form.save(commit=False).save_version(version)
        return "The page is open." if form.instance.is_open else "The page is closed."

    return edit_page(
        request,
        form=EnquiryPageForm(request.POST if posted else None, instance=row),
        work=work,
        done="Saved.",
        url=reverse("enquiry-page", args=[request.team.slug]),
        heading="The page for enquiries",
        about="Enquiry page",
        here="team",
    )
