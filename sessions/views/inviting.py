"""Invite the people of a session; its entry for a calendar."""

from __future__ import annotations

from datetime import datetime

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from pipeline.clock import moment
from pipeline.mail.models import StoppedAddress
from pipeline.teams.models import Role
from pipeline.teams.refused import Refused
from pipeline.teams.tenancy import TeamRequest, door, fetch
from sessions.calendars.entry import Method, calendar_file
from sessions.calendars.inviting import invite, may_be_told
from sessions.calendars.of_session import entry_of, invitees_of, of_member
from sessions.models import DiscoverySession


def say_invited(request: TeamRequest, letters: int) -> None:
    """Say how many letters an invitation made."""
    if letters:
        noun = "letter is" if letters == 1 else "letters are"
        messages.success(request, f"{letters} {noun} on the way, with an entry for the calendar.")


def who_gets_word(session: DiscoverySession, now: datetime) -> str:
    """Return in words who is told of a change by letter; empty where nobody is."""
    if not may_be_told(session, now):
        return ""
    entry = session.entries.first()
    if entry is None or entry.withdrawn or not entry.people:
        return ""
    stopped = StoppedAddress.objects.of(session.team, [email for email, _ in entry.people])
    told = [name or email for email, name in entry.people if email not in stopped]
    return f"By letter get word of it: {', '.join(told)}." if told else ""


@door(needs=Role.MEMBER)
@require_POST
def session_invite(request: TeamRequest, pk: int) -> HttpResponse:
    """Invite everybody who takes part; who knows already gets nothing anew."""
    session = fetch(DiscoverySession.objects.all(), request.team, pk=pk)
    try:
        letters = invite(session=session, member=request.member, now=moment.now())
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        say_invited(request, letters)
        if not letters:
            messages.info(request, "Nobody is left to be told: everybody else knows already.")
    return redirect(reverse("session", args=[request.team.slug, pk]))


@door()
@require_safe
def session_entry(request: TeamRequest, pk: int) -> HttpResponse:
    """Hand out a session as a calendar entry to keep, without anybody being asked."""
    rows = DiscoverySession.objects.select_related("lead", "format", "team")
    session = fetch(rows, request.team, pk=pk)
    if session.starts_at is None:
        raise Http404
    told = session.entries.first()
    crew = [invitee.person for invitee in invitees_of(session) if invitee.member_id]
    entry = entry_of(
        session,
        stamp=session.recorded_at,
        sequence=told.sequence if told else session.version - 1,
        organizer=crew[0] if crew else of_member(request.member),
    )
    return calendar_download(calendar_file([entry], method=Method.PUBLISH), f"session-{pk}")


def calendar_download(content: str, name: str) -> HttpResponse:
    """Return a calendar file to be kept under ``name``."""
    return HttpResponse(
        content,
        content_type="text/calendar; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="{name}.ics"'},
    )
