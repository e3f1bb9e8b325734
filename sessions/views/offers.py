"""Find times in which the crew is free; hold some for a lead; book the one that is taken."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from pipeline.clock import moment
from pipeline.clock.zones import at_local, local_day
from pipeline.leads.models import Lead
from pipeline.mail.models import StoppedAddress
from pipeline.mail.stopped import asked_for_no_more
from pipeline.teams.models import Absence, Role, Team
from pipeline.teams.pages import new_page
from pipeline.teams.tenancy import TeamRequest, door, fetch
from sessions.calendars.entry import Method, calendar_file
from sessions.calendars.forms import HoldForm, TimesForm
from sessions.calendars.free import Hours, Span, free_times
from sessions.calendars.inviting import in_both_zones, zone_of
from sessions.calendars.offering import (
    MOST,
    entries_of,
    free,
    hold_times,
    send_offer,
    take,
    text_of,
)
from sessions.calendars.taken import away_in, taken_in
from sessions.clashes import warnings_for_booking
from sessions.models import DiscoverySession, Offer, OfferedTime

from .acts import act
from .inviting import calendar_download


@dataclass(frozen=True)
class Slot:
    """A time that was found, in words on both clocks, with the way to book it at once."""

    value: str
    starts_at: datetime
    ends_at: datetime
    theirs: datetime | None
    their_end: datetime | None
    book: str
    ticked: bool


@dataclass(frozen=True)
class Found:
    """What a search came to: days with their times."""

    days: list[tuple[date, list[Slot]]]
    zone: str
    two_clocks: bool
    # Of the crew, on days that were looked at: then no time is found.
    away: list[Absence]


@door(needs=Role.MEMBER)
@require_http_methods(["GET", "HEAD", "POST"])
def session_times(request: TeamRequest, pk: int) -> HttpResponse:
    """Search for times, and hold those that were ticked."""
    lead = fetch(Lead.objects.present(), request.team, pk=pk)
    lead.team = request.team
    now = moment.now()
    held = Offer.objects.for_team(request.team).open().filter(lead=lead).first()
    context = {
        "here": "sessions",
        "lead": lead,
        "held": held,
        "most": MOST,
        "fresh": uuid.uuid4(),
    }
    if request.method == "POST":
        form = HoldForm(request.POST, lead=lead)
        search = _search(form, request.team, now)

        def work(form: HoldForm) -> str:
            data = form.cleaned_data
            offer = hold_times(
                lead=lead,
                member=request.member,
                now=now,
                format=data["format"],
                minutes=data["minutes"],
                starts=data["starts"],
                crew=form.crew(),
                contact=data["contact"],
                place=data["place"],
            )
            return reverse("offer", args=[request.team.slug, offer.pk])

        return new_page(
            request,
            form=form,
            now=now,
            work=work,
            done="The times are held.",
            template="sessions/calendars/times.html",
            found=search,
            **context,
        )
    tomorrow = request.team.today(now) + timedelta(days=1)
    initial = {"facilitator": request.member.pk, "first": tomorrow, "days": 7}
    times = TimesForm(request.GET if "first" in request.GET else None, lead=lead, initial=initial)
    context |= {"form": times, "found": _search(times, request.team, now)}
    status = 422 if times.is_bound and not times.is_valid() else 200
    return render(request, "sessions/calendars/times.html", context, status=status)


def _search(form: TimesForm, team: Team, now: datetime) -> Found | None:
    """Return the free times for a valid search; ``None`` where there is nothing to go by."""
    if not form.may_search():
        return None
    data, minutes = form.cleaned_data, form.cleaned_data["minutes"]
    first, last = data["first"], data["first"] + timedelta(days=data["days"] - 1)
    zone = zone_of(data["contact"], team)
    both = [team.timezone] if data["only_ours"] else list(dict.fromkeys([team.timezone, zone]))
    hours = [
        Hours(z, team.day_starts, team.day_ends, team.calendar() if n == 0 else team.week())
        for n, z in enumerate(both)
    ]
    span = Span(
        at_local(first, time.min, team.timezone),
        at_local(last + timedelta(days=1), time.min, team.timezone),
    )
    members = [member for part in form.crew().values() for member in part]
    taken = taken_in(team=team, members=members, span=span)
    away = away_in(team=team, members=members, first=first, last=last)
    starts = free_times(
        hours=hours,
        taken=[*(one.span for one in taken), *(days for _, days in away)],
        first=first,
        last=last,
        minutes=minutes,
        now=now,
    )
    two = zone != team.timezone
    ticked = set(form.data.getlist("starts")) if hasattr(form.data, "getlist") else set()
    days: dict[date, list[Slot]] = {}
    for start in starts:
        value, end = start.isoformat(), start + timedelta(minutes=minutes)
        slot = Slot(
            value=value,
            starts_at=start,
            ends_at=end,
            theirs=start if two else None,
            their_end=end if two else None,
            book=_book(form, start, team),
            ticked=value in ticked,
        )
        days.setdefault(local_day(start, team.timezone), []).append(slot)
    return Found(list(days.items()), zone, two, [absence for absence, _ in away])


def _book(form: TimesForm, start: datetime, team: Team) -> str:
    """Return what the booking form is to be filled with."""
    data = form.cleaned_data
    crew = [("facilitator", data["facilitator"]), ("note_taker", data["note_taker"])]
    local = start.astimezone(ZoneInfo(team.timezone))
    return urlencode(
        [
            ("format", data["format"].pk),
            ("starts_at", f"{local:%Y-%m-%dT%H:%M}"),
            ("minutes", data["minutes"]),
            ("place", data["place"]),
            *((name, member.pk) for name, member in crew if member),
            *(("supports", member.pk) for member in data["supports"]),
            *([("attendees", data["contact"].pk)] if data["contact"] else []),
        ]
    )


@door()
@require_safe
def offer(request: TeamRequest, pk: int) -> HttpResponse:
    """Show times that are held, or were."""
    row = fetch(Offer.objects.with_names().select_related("session"), request.team, pk=pk)
    zone, now = zone_of(row.contact, request.team), moment.now()
    times = [
        (one, in_both_zones(one.starts_at, row.minutes, zone, request.team), one.starts_at > now)
        for one in row.times.all()
    ]
    to = row.contact.email if row.contact else ""
    stopped = StoppedAddress.objects.of(request.team, [to])
    said = [asked_for_no_more(row.contact, request.team, at) for at in stopped.values()]
    return render(
        request,
        "sessions/calendars/offer.html",
        {
            "here": "sessions",
            "offer": row,
            "times": times,
            "text": text_of(row, request.member),
            "stopped": "".join(said),
        },
    )


@door()
@require_safe
def offered_entry(request: TeamRequest, pk: int) -> HttpResponse:
    """Hand out one of the times as a calendar entry of its own."""
    found = fetch(OfferedTime.objects.select_related("offer"), request.team, pk=pk)
    row = Offer.objects.with_names().get(pk=found.offer_id)
    stamp = row.closed_at or row.made_at
    entries = dict(zip((t.pk for t in row.times.all()), entries_of(row, stamp=stamp), strict=True))
    content = calendar_file([entries[found.pk]], method=Method.PUBLISH)
    return calendar_download(content, f"time-{found.pk}")


@door(needs=Role.MEMBER)
@require_POST
def offer_send(request: TeamRequest, pk: int) -> HttpResponse:
    """Send the times as a letter, once."""
    row = fetch(Offer.objects.all(), request.team, pk=pk)

    def work() -> str:
        first = send_offer(offer=row, member=request.member, now=moment.now())
        return "The letter is on its way." if first else "The letter was sent already, once."

    return act(request, work=work, url=reverse("offer", args=[request.team.slug, pk]))


@door(needs=Role.MEMBER)
@require_POST
def offer_free(request: TeamRequest, pk: int) -> HttpResponse:
    """Free all times."""
    row = fetch(Offer.objects.all(), request.team, pk=pk)

    def work() -> str:
        done = free(offer=row, member=request.member, now=moment.now())
        return "The times are free again." if done else "They were not held any more."

    return act(request, work=work, url=reverse("offer", args=[request.team.slug, pk]))


def _warn(request: TeamRequest, session: DiscoverySession, starts_at: datetime) -> None:
    """Say what a booking would have been warned of: what was held is booked all the same."""
    crew = session.crew.select_related("member__user")
    for warning in warnings_for_booking(
        team=request.team,
        lead=session.lead,
        starts_at=starts_at,
        minutes=session.minutes,
        crew=[place.member for place in crew],
        leaving_out=session,
    ):
        messages.warning(request, warning)


@door(needs=Role.MEMBER)
@require_POST
def offered_take(request: TeamRequest, pk: int) -> HttpResponse:
    """Book the time that was taken; the second click leads to the same session."""
    found = fetch(OfferedTime.objects.select_related("offer"), request.team, pk=pk)
    booked: list[str] = []

    def work() -> str:
        session, first = take(time=found, member=request.member, now=moment.now())
        if first:
            _warn(request, session, found.starts_at)
        booked.append(reverse("session", args=[request.team.slug, session.pk]))
        return (
            "The session is booked, and the other times are free again."
            if first
            else "It was booked already, once."
        )

    answer = act(request, work=work, url=found.offer.get_absolute_url())
    return redirect(booked[0]) if booked else answer
