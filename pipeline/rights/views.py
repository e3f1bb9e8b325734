"""Pages about one person's data: what is kept, handing it out, erasing it; and what names whom."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import FileResponse, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from pipeline.clock import moment
from pipeline.followups.models import Consent
from pipeline.leads.models import Contact
from pipeline.teams.forms import key_of
from pipeline.teams.models import Role
from pipeline.teams.once import do_once
from pipeline.teams.pages import new_page
from pipeline.teams.tenancy import TeamRequest, door, fetch

from .archive import write_archive
from .erasing import SPOKEN, erase
from .finding import mentions, take_out
from .forms import EraseForm, HandOutForm, SearchForm
from .gathering import gather, same_address, words_of
from .models import DataAct, Done
from .words import Words

GET_AND_POST = ["GET", "HEAD", "POST"]
A_PAGE = 50
# So many places that name somebody are shown; who finds more looks again after the first.
MOST = 200


@door(needs=Role.OWNER)
@require_safe
def rights(request: TeamRequest) -> HttpResponse:
    """Show what was done with people's data, and lead to what can be done."""
    acts = DataAct.objects.for_team(request.team).newest_first()
    page = Paginator(acts, A_PAGE).get_page(request.GET.get("page"))
    return render(request, "rights/rights.html", {"here": "team", "page": page})


@door(needs=Role.OWNER)
@require_http_methods(GET_AND_POST)
def contact_data(request: TeamRequest, pk: int) -> HttpResponseBase:
    """Show what is kept of a person; on the button hand it out, and note that."""
    contact = _contact(request, pk)
    form = HandOutForm(request.POST if request.method == "POST" else None)
    everything = gather(contact, request.team)
    if form.is_valid():
        now = moment.now()

        def note() -> str:
            DataAct.objects.create(
                team=request.team,
                done=Done.HANDED_OUT,
                contact=contact,
                at=now,
                by=request.member,
                what_for=form.cleaned_data["what_for"],
            )
            return request.path

        do_once(team=request.team, key=key_of(form), now=now, work=note)
        return FileResponse(
            write_archive(everything, request.team, now),
            as_attachment=True,
            filename=f"person-{contact.pk}-{request.team.today(now)}.zip",
            content_type="application/zip",
            headers={"Cache-Control": "private, no-store", "X-Content-Type-Options": "nosniff"},
        )
    context = {
        "here": "leads",
        "contact": contact,
        "everything": everything,
        "consents": Consent.objects.for_team(request.team).filter(contact=contact),
        "acts": DataAct.objects.for_team(request.team).filter(contact=contact).newest_first(),
        "form": form,
    }
    return render(request, "rights/contact.html", context, status=422 if form.is_bound else 200)


@door(needs=Role.OWNER)
@require_http_methods(GET_AND_POST)
def contact_erase(request: TeamRequest, pk: int) -> HttpResponse:
    """Ask, with all that goes and stays, then erase a person for good."""
    contact = _contact(request, pk)
    back = reverse("contact-data", args=[request.team.slug, pk])
    if contact.erased_at is not None:
        messages.info(request, "This person was erased already.")
        return redirect(back)
    now = moment.now()
    form = EraseForm(request.POST if request.method == "POST" else None, contact=contact)

    def work(form: EraseForm) -> str:
        erase(
            contact=contact,
            member=request.member,
            now=now,
            what_for=form.cleaned_data["what_for"],
            with_same_address=[row.pk for row in form.cleaned_data.get("others") or ()],
        )
        return reverse("rights-search", args=[request.team.slug])

    return new_page(
        request,
        form=form,
        now=now,
        work=work,
        done="Erased. If free text named them, look here for what is left of it.",
        template="rights/erase.html",
        here="leads",
        contact=contact,
        back=back,
        button="Erase this person for good",
        booked=contact.sessions.booked(),
        **_left_by_hand(request, contact),
    )


@door(needs=Role.OWNER)
@require_http_methods(GET_AND_POST)
def rights_search(request: TeamRequest) -> HttpResponse:
    """Find what names somebody; take it out of what nobody edits by hand.

    What is looked for is posted: it is to stand in no address, and in no log.
    """
    form = SearchForm(request.POST if request.method == "POST" else None)
    context: dict[str, Any] = {"here": "team", "form": form}
    if form.is_valid():
        words: Words = form.cleaned_data["words"]
        if "take_out" in request.POST:
            count = take_out(
                team=request.team,
                words=words,
                chosen=set(request.POST.getlist("row")),
                member=request.member,
                now=moment.now(),
            )
            context["taken_out"] = count
        context |= {"searched": True, **_sorted(request, words)}
    status = 422 if form.is_bound and form.errors else 200
    return render(request, "rights/search.html", context, status=status)


def _left_by_hand(request: TeamRequest, contact: Contact) -> dict[str, Any]:
    """Return what names a person and would be left, as only a person can judge it."""
    spoken = {(model, field) for model, field, _ in SPOKEN}
    found = [
        one
        for one in mentions(request.team, words_of(contact), but=[contact, *same_address(contact)])
        if one.by_hand and (type(one.row), one.field.name) not in spoken
    ]
    return {"by_hand": found[:MOST], "more": len(found) > MOST}


def _sorted(request: TeamRequest, words: Words) -> dict[str, Any]:
    """Return what names somebody: what a person edits, and what nobody does."""
    found = mentions(request.team, words)
    hands = [one for one in found if one.by_hand]
    kept = [one for one in found if not one.by_hand]
    return {
        "by_hand": hands[:MOST],
        "kept": kept[:MOST],
        "more": max(len(hands), len(kept)) > MOST,
    }


def _contact(request: TeamRequest, pk: int) -> Contact:
    return fetch(Contact.objects.select_related("lead"), request.team, pk=pk)
