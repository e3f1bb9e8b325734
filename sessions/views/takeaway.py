"""The takeaway: look at it, send it, end a link that was sent."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from django.contrib import messages
from django.db.models import Prefetch, Sum
from django.http import HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from pipeline.clock import moment
from pipeline.leads.models import Contact
from pipeline.mail.stopped import asked_for_no_more
from pipeline.teams.models import Role
from pipeline.teams.pages import new_page
from pipeline.teams.refused import Refused
from pipeline.teams.tenancy import TeamRequest, door, fetch
from pipeline.typeset.setting import CannotBeSet, Document
from sessions.calendars.of_session import stopped_of
from sessions.models import DiscoverySession, Opening, SharedTakeaway, State
from sessions.takeaways.characters import named
from sessions.takeaways.forms import SendForm
from sessions.takeaways.harvest import Harvest, harvest
from sessions.takeaways.sending import link_to, send
from sessions.takeaways.setting import file_name, set_harvest

from .handing_out import pdf
from .write_up import about, session_at

REFUSED = "The typesetter refuses this takeaway: {}. Shorten or reword what is unusual in it."


def _set(found: Harvest) -> Document:
    try:
        return set_harvest(found)
    except CannotBeSet as error:
        raise Refused(REFUSED.format(error)) from error


@door()
@require_safe
def takeaway(request: TeamRequest, pk: int) -> HttpResponse:
    """Tell what is in the takeaway, what it lacks, and what became of what was sent."""
    found = session_at(request, pk)
    read = harvest(found)
    context: dict[str, Any] = {"harvest": read, "lacking": read.lacking, **about(found)}
    try:
        document = _set(read)
    except Refused as refused:
        context["refused"] = str(refused)
    else:
        context |= {"document": document, "missing": named(document.missing)}
    openings = Opening.objects.order_by("day")
    sent = SharedTakeaway.objects.filter(session=found).select_related(
        "sent_by__user", "ended_by__user", "deliverable"
    )
    rows = list(
        sent.prefetch_related(Prefetch("openings", openings)).annotate(
            opened=Sum("openings__times")
        )
    )
    context["sent"] = [(row, link_to(row)) for row in rows]
    context["held"] = found.state == State.HELD
    return render(request, "sessions/takeaways/takeaway.html", context)


@door()
@require_safe
def takeaway_pdf(request: TeamRequest, pk: int) -> HttpResponseBase:
    """Set the takeaway and hand it out."""
    found = session_at(request, pk)
    try:
        document = _set(harvest(found))
    except Refused as refused:
        messages.error(request, str(refused))
        return redirect("takeaway", request.team.slug, found.pk)
    return pdf(document.pdf, file_name(found))


@door(needs=Role.MEMBER)
@require_http_methods(["GET", "HEAD", "POST"])
def takeaway_send(request: TeamRequest, pk: int) -> HttpResponse:
    """Send the takeaway: letters with a link, and the deliverable marked sent, in one."""
    found, now = session_at(request, pk), moment.now()
    url = reverse("takeaway", args=[request.team.slug, found.pk])
    earlier = list(SharedTakeaway.objects.filter(session=found).select_related("sent_by__user"))
    stopped = stopped_of(found)
    form = SendForm(
        request.POST if request.method == "POST" else None,
        session=found,
        initial=_first_guess(found, len(earlier), stopped),
    )
    document: Document | None = None
    if form.is_valid():
        try:
            document = _set(harvest(found))
        except Refused as refused:
            form.add_error(None, str(refused))

    def work(form: SendForm) -> str:
        data = form.cleaned_data
        assert document is not None
        try:
            send(
                session=found,
                member=request.member,
                now=now,
                to=data["to"],
                subject=data["subject"],
                words=data["words"],
                document=document,
                seen=data["seen"],
            )
        except Refused:
            # what was sent meanwhile is told, and may be followed by another
            newer = SharedTakeaway.objects.filter(session=found).count()
            form.data = form.data.copy()  # type: ignore[attr-defined]
            form.data["seen"] = str(newer)  # type: ignore[index]
            raise
        return url

    warnings = [
        f"It was sent to {row.sent_to} already, by {row.sent_by or 'somebody'}." for row in earlier
    ] + [
        f"{asked_for_no_more(one, request.team, at)} Nothing is sent to them."
        for one, at in stopped.items()
    ]
    return new_page(
        request,
        form=form,
        now=now,
        work=work,
        done="The takeaway is on its way.",
        heading="Send the takeaway",
        lede="The file as it is now goes out by a link that they may pass on, and that you may "
        "end. The deliverable is marked sent.",
        button="Send it",
        back=url,
        warnings=warnings,
        **about(found),
    )


def _first_guess(
    found: DiscoverySession, seen: int, stopped: Collection[Contact]
) -> dict[str, Any]:
    here = [one for one in found.attendees.all() if one.email and one not in stopped]
    names = ", ".join(contact.name for contact in here)
    return {
        "contacts": [contact.pk for contact in here],
        "subject": f"Your takeaway from {found.team}",
        "words": f"Good day{f' {names}' if names else ''},\n\n"
        "thank you for the hour with us. Here is what we heard, what counted most, and where we "
        "would look next.",
        "seen": seen,
    }


@door(needs=Role.MEMBER)
@require_POST
def shared_end(request: TeamRequest, pk: int) -> HttpResponse:
    """End a link: from now on it leads to nothing."""
    row = fetch(SharedTakeaway.objects.all(), request.team, pk=pk)
    ended = row.end(member=request.member, now=moment.now())
    said = "The link is ended." if ended else "The link was ended already. Nothing was changed."
    messages.success(request, said)
    return redirect("takeaway", request.team.slug, row.session_id)
