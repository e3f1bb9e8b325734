"""Book a session for a lead; change what is known of one."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from pipeline.clock import moment
from pipeline.leads.models import Lead
from pipeline.teams.models import Role
from pipeline.teams.pages import edit_page, new_page
from pipeline.teams.tenancy import TeamRequest, door, fetch
from sessions.booking import PLAIN, amend, book
from sessions.calendars.inviting import invite, may_be_told
from sessions.clashes import warnings_for_booking
from sessions.forms import BookForm, SessionForm
from sessions.models import DiscoverySession, State

from .inviting import say_invited, who_gets_word


@door(needs=Role.MEMBER)
@require_http_methods(["GET", "HEAD", "POST"])
def session_book(request: TeamRequest, pk: int) -> HttpResponse:
    """Book a session; warn, and ask again, where the week or the crew is full."""
    lead = fetch(Lead.objects.present(), request.team, pk=pk)
    lead.team = request.team
    now = moment.now()
    warnings: list[str] = []

    def work(form: BookForm) -> str:
        data, crew = form.cleaned_data, form.crew()
        warnings.extend(
            warnings_for_booking(
                team=request.team,
                lead=lead,
                starts_at=data["starts_at"],
                minutes=data["minutes"],
                crew=[member for members in crew.values() for member in members],
            )
        )
        form.accept(warnings)
        session = book(
            lead=lead,
            member=request.member,
            now=now,
            format=data["format"],
            starts_at=data["starts_at"],
            minutes=data["minutes"],
            place=data["place"],
            beforehand=data["beforehand"],
            crew=crew,
            attendees=data["attendees"],
        )
        if data["invite"] and may_be_told(session, now):
            say_invited(request, invite(session=session, member=request.member, now=now))
        return reverse("session", args=[request.team.slug, session.pk])

    return new_page(
        request,
        form=BookForm(request.POST or None, lead=lead, initial=_initial(request)),
        now=now,
        work=work,
        done="The session is booked.",
        here="sessions",
        heading="Book a session",
        about=lead.organisation,
        back=reverse("lead", args=[request.team.slug, lead.pk]),
        button="Book it",
        warnings=warnings,
    )


def _initial(request: TeamRequest) -> dict[str, Any]:
    """Return what the form holds from the start: what the address says, as a found time's does."""
    single = ("format", "starts_at", "minutes", "place", "facilitator", "note_taker")
    several = ("supports", "attendees")
    given: dict[str, Any] = {"facilitator": request.member.pk}
    given |= {name: request.GET[name] for name in single if name in request.GET}
    return given | {name: request.GET.getlist(name) for name in several if name in request.GET}


@door(needs=Role.MEMBER)
@require_http_methods(["GET", "HEAD", "POST"])
def session_edit(request: TeamRequest, pk: int) -> HttpResponse:
    """Change hour, place, crew, attendees, count and effort of a session."""
    rows = DiscoverySession.objects.select_related("lead__team", "team", "format")
    session = fetch(rows, request.team, pk=pk)
    now = moment.now()
    warnings: list[str] = []
    was_on, was_long = session.starts_at, session.minutes

    def work(form: SessionForm, version: int) -> None:
        data, crew = form.cleaned_data, form.crew()
        members = [member for members in crew.values() for member in members]
        moved = (data["starts_at"], data["minutes"]) != (was_on, was_long)
        others = {m.pk for m in members} - form.crew_before()
        if session.state == State.BOOKED and data["starts_at"] and (moved or others):
            warnings.extend(
                warnings_for_booking(
                    team=request.team,
                    lead=session.lead,
                    starts_at=data["starts_at"],
                    minutes=data["minutes"],
                    crew=members,
                    leaving_out=session,
                )
            )
        form.accept(warnings)
        amend(
            session=session,
            member=request.member,
            now=now,
            expected_version=version,
            starts_at=data["starts_at"],
            minutes=data["minutes"],
            # of a sheet's session nobody is known, and it may stay so
            crew=crew if members or form.crew_before() else None,
            attendees=data["attendees"],
            plain={name: data[name] for name in PLAIN},
        )

    return edit_page(
        request,
        form=SessionForm(request.POST or None, instance=session),
        work=work,
        done="The session is saved.",
        url=reverse("session", args=[request.team.slug, session.pk]),
        here="sessions",
        heading="Change the session",
        lede=who_gets_word(session, now) if session.state == State.BOOKED else "",
        about=f"{session.lead}: {session.format or 'session'}",
        warnings=warnings,
    )
