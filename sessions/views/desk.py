"""The desk: the page that the crew keeps open during a session."""

from __future__ import annotations

import json
import uuid
from datetime import datetime

from django.contrib import messages
from django.http import HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from pipeline.clock import moment
from pipeline.teams.models import Role
from pipeline.teams.tenancy import TeamRequest, door, fetch
from sessions.desk.board import board_of, run_sheet
from sessions.desk.changes import changes_since, milliseconds
from sessions.desk.entries import entries_of_form, read_entry
from sessions.desk.taking_in import take_in
from sessions.models import DiscoverySession

MOST_AT_ONCE = 200


def _session(request: TeamRequest, pk: int) -> DiscoverySession:
    rows = DiscoverySession.objects.select_related("lead", "format")
    session = fetch(rows, request.team, pk=pk)
    session.team = request.team
    return session


@door()
@require_safe
def desk(request: TeamRequest, pk: int) -> HttpResponse:
    """Show the run sheet and everything caught; without JavaScript its forms do all the work."""
    session = _session(request, pk)
    return _page(request, session, moment.now(), opened=request.GET.get("change", ""))


def _page(
    request: TeamRequest,
    session: DiscoverySession,
    now: datetime,
    *,
    opened: str = "",
    typed: dict[str, str] | None = None,
) -> HttpResponse:
    """Show the desk; with what was ``typed`` into a form and refused, in that form."""
    steps = list(session.format.steps.all()) if session.format else []
    return render(
        request,
        "sessions/desk/page.html",
        {
            "here": "sessions",
            "session": session,
            "sheet": run_sheet(session, steps, now),
            "board": board_of(session, steps),
            "now": milliseconds(now),
            "writes": request.member.writes,
            # the row whose forms are open, and a new key for each form
            "open": opened,
            "typed": typed,
            "fresh": uuid.uuid4,
        },
        status=422 if typed is not None else 200,
    )


@door()
@require_safe
def desk_changes(request: TeamRequest, pk: int) -> HttpResponse:
    """Tell a page that is open what changed since it last heard, and what the time is."""
    session = _session(request, pk)
    return _told(session, request.GET.get("after", ""), moment.now())


@door(needs=Role.MEMBER)
@require_POST
def desk_catch(request: TeamRequest, pk: int) -> HttpResponse:
    """Take in entries: many as JSON from an open page, or those of one form."""
    now = moment.now()
    session = _session(request, pk)
    if request.content_type != "application/json":
        return _form_taken(request, session, now)
    try:
        posted = json.loads(request.body)
        sent = list(posted["entries"])
        seen = str(posted["after"])
    except (ValueError, KeyError, TypeError, RecursionError):
        return JsonResponse({"why": "Send JSON with entries and after."}, status=400)
    entries = [read_entry(said, now) for said in sent[:MOST_AT_ONCE]]
    known = [entry for entry in entries if entry]
    refused = take_in(session=session, member=request.member, now=now, entries=known)
    said_no = {str(refusal.key): refusal.why for refusal in refused}
    taken = [str(entry.key) for entry in known if str(entry.key) not in said_no]
    return _told(session, seen, now, taken=taken, refused=said_no)


def _told(session: DiscoverySession, seen: str, now: datetime, **more: object) -> JsonResponse:
    number = int(seen) if seen.isascii() and seen.isdecimal() and len(seen) < 19 else 0
    told = {"now": milliseconds(now), **changes_since(session, number), **more}
    response = JsonResponse(told)
    response.headers["Cache-Control"] = "no-store"
    return response


def _form_taken(request: TeamRequest, session: DiscoverySession, now: datetime) -> HttpResponse:
    entries = entries_of_form(request.POST.dict(), now)
    refused = take_in(session=session, member=request.member, now=now, entries=entries)
    if entries and not refused:
        url = reverse("desk", args=[request.team.slug, session.pk])
        return redirect(f"{url}#{'run' if request.POST.get('kind') == 'press' else 'caught'}")
    for why in dict.fromkeys(refusal.why for refusal in refused):
        messages.error(request, why)
    if not entries:
        messages.error(request, "Nothing came with this form. Send it from the desk's page.")
    typed = request.POST.dict()
    if len(entries) > 1:
        # of many lines only those that are still to be mended
        no = {refusal.key for refusal in refused}
        typed["text"] = "\n".join(e.said.get("text", "") for e in entries if e.key in no)
    return _page(request, session, now, opened=typed.get("row", ""), typed=typed)
