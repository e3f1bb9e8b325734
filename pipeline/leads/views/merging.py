"""Merge two leads, after a look at both, and part them again."""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from pipeline.clock import moment
from pipeline.leads.comparing import compare, moved_in_words
from pipeline.leads.merging import merge, unmerge
from pipeline.leads.models import Lead, LeadQuerySet, Merge
from pipeline.leads.returning import similar
from pipeline.leads.search import search
from pipeline.teams.models import Role
from pipeline.teams.refused import Refused
from pipeline.teams.tenancy import TeamRequest, door, fetch

GET_AND_POST = ["GET", "HEAD", "POST"]
FOUND = 20


class Pick(forms.Form):
    """Look for the other lead, and name it."""

    q = forms.CharField(
        label="Search for the other lead",
        max_length=200,
        required=False,
        widget=forms.TextInput(attrs={"type": "search"}),
        help_text="Words of the organisation, a person, an address; or a reference.",
    )
    other = forms.ModelChoiceField(Lead.objects.none(), required=False, widget=forms.HiddenInput)
    keep = forms.IntegerField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: object, others: LeadQuerySet, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        choices = self.fields["other"]
        assert isinstance(choices, forms.ModelChoiceField)
        choices.queryset = others


@door(needs=Role.MEMBER)
@require_http_methods(GET_AND_POST)
def lead_merge(request: TeamRequest, pk: int) -> HttpResponse:
    """Find the other lead, show both side by side, and merge them on a button."""
    leads = Lead.objects.for_team(request.team).with_names().prefetch_related("contacts")
    lead = fetch(leads, request.team, pk=pk)
    if request.method != "POST" and lead.merged_into is not None:
        return redirect("lead-merge", request.team.slug, lead.kept().pk)
    others = leads.exclude(pk=pk)
    posted = request.method == "POST"
    form = Pick(request.POST if posted else request.GET, others=others)
    form.is_valid()
    other = form.cleaned_data.get("other")
    if posted:
        done = _merge(request, form, lead, other)
        if done is not None:
            return done
    words = form.cleaned_data.get("q", "")
    emails = [contact.email for contact in lead.contacts.all()]
    found = (
        search(others.present(), words).order_by("-created_at", "-pk")[: FOUND + 1]
        if words
        else similar(request.team, organisation=lead.organisation, emails=emails, but=lead)
    )
    found = list(found)
    context = {
        "here": "leads",
        "lead": lead,
        "form": form,
        "words": words,
        "found": found[:FOUND],
        "more": len(found) > FOUND,
        "other": other,
        "lines": compare(lead, other) if other else [],
        "merges": [(m, moved_in_words(m)) for m in Merge.objects.into(lead)],
        "today": request.team.today(moment.now()),
    }
    return render(request, "leads/merge.html", context, status=422 if posted else 200)


def _merge(
    request: TeamRequest, form: Pick, lead: Lead, other: Lead | None
) -> HttpResponse | None:
    """Merge the two, and return where to go; ``None`` where the page says what is wrong."""
    keep = form.cleaned_data.get("keep")
    if other is None or keep not in (lead.pk, other.pk):
        form.add_error(None, "Choose the other lead, then which of the two is kept.")
        return None
    kept, gone = (lead, other) if keep == lead.pk else (other, lead)
    if gone.merged_into_id == kept.pk:
        messages.info(request, f"{gone} was merged into this lead already.")
        return redirect("lead", request.team.slug, kept.pk)
    try:
        merge(kept=kept, gone=gone, member=request.member, now=moment.now())
    except Refused as refused:
        form.add_error(None, str(refused))
        return None
    messages.success(request, f"{gone} is merged into this lead. It can be undone.")
    return redirect("lead", request.team.slug, kept.pk)


@door(needs=Role.MEMBER)
@require_http_methods(GET_AND_POST)
def merge_undo(request: TeamRequest, pk: int) -> HttpResponse:
    """Part two leads again, on a button."""
    row = fetch(Merge.objects.select_related("kept", "gone"), request.team, pk=pk)
    refused = ""
    if row.undone_at is not None:
        messages.info(request, "These leads were parted already.")
        return redirect("lead", request.team.slug, row.gone_id)
    if request.method == "POST":
        try:
            unmerge(merge=row, now=moment.now())
        except Refused as why:
            refused = str(why)
        else:
            messages.success(request, f"{row.gone} stands for itself again.")
            return redirect("lead", request.team.slug, row.gone_id)
    context = {
        "here": "leads",
        "merge": row,
        "moved": moved_in_words(row),
        "refused": refused,
    }
    return render(request, "leads/merge_undo.html", context, status=422 if refused else 200)
