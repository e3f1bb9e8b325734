"""A session's page, and what may become of the session."""

from __future__ import annotations

from django.db.models import Prefetch
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from pipeline.clock import moment
from pipeline.mail.stopped import asked_for_no_more
from pipeline.teams.models import Role, Stale
from pipeline.teams.pages import edit_page
from pipeline.teams.tenancy import TeamRequest, door, fetch
from sessions.booking import cancel, mark_missed, put_back
from sessions.calendars.inviting import may_be_told
from sessions.calendars.of_session import stopped_of
from sessions.forms import HeldForm, ReasonForm
from sessions.holding import hold
from sessions.models import Deliverable, DiscoverySession, State

from .acts import act, act_page, who_did_it
from .formats import laid_out
from .inviting import who_gets_word


def _session(request: TeamRequest, pk: int) -> DiscoverySession:
    rows = DiscoverySession.objects.select_related("lead", "format", "marked_by__user")
    return fetch(rows, request.team, pk=pk)


def _url(request: TeamRequest, session: DiscoverySession) -> str:
    return reverse("session", args=[request.team.slug, session.pk])


def _why(request: TeamRequest, found: DiscoverySession) -> ReasonForm:
    posted = request.POST if request.method == "POST" else None
    return ReasonForm(posted, initial={"reason": found.reason})


@door()
@require_safe
def session(request: TeamRequest, pk: int) -> HttpResponse:
    """Show everything about one session."""
    owed = Deliverable.objects.select_related("owner__user", "marked_by__user")
    rows = (
        DiscoverySession.objects.with_names()
        .select_related("marked_by__user", "recorded_by__user")
        .prefetch_related("attendees", "format__steps", "entries", Prefetch("deliverables", owed))
    )
    found = fetch(rows, request.team, pk=pk)
    found.team = request.team
    now = moment.now()
    today = request.team.today(now)
    return render(
        request,
        "sessions/session.html",
        {
            "here": "sessions",
            "session": found,
            "today": today,
            "came": found.day <= today,
            "entry": next(iter(found.entries.all()), None),
            "stopped": [
                asked_for_no_more(one, request.team, at) for one, at in stopped_of(found).items()
            ],
            "may_invite": found.state == State.BOOKED and may_be_told(found, now),
            "agenda": laid_out(found.format, found.minutes) if found.format else None,
        },
    )


@door(needs=Role.MEMBER)
@require_http_methods(["GET", "HEAD", "POST"])
def session_held(request: TeamRequest, pk: int) -> HttpResponse:
    """Mark a session held; count and effort may be noted at once."""
    found = _session(request, pk)
    url, now = _url(request, found), moment.now()
    if request.method != "POST" and found.state == State.HELD:
        return redirect(url)
    warnings: list[str] = []

    def work(form: HeldForm, version: int) -> str:
        told = {name: form.cleaned_data[name] for name in HeldForm.Meta.fields}
        try:
            row = hold(
                session=found, member=request.member, now=now, expected_version=version, **told
            )
        except Stale as stale:
            if isinstance(stale.row, DiscoverySession) and stale.row.state == State.HELD:
                warnings.append(who_did_it(request, stale.row, "held", now))
            raise
        return who_did_it(request, row, "held", now)

    return edit_page(
        request,
        form=HeldForm(request.POST or None, instance=found),
        work=work,
        done="Marked held.",
        url=url,
        here="sessions",
        heading="Mark the session held",
        about=f"{found.lead}: {found.format or 'session'}",
        lede="What the format promises is due from then on. "
        "Count and effort may stay blank and be noted later.",
        button="It was held",
        warnings=warnings,
    )


@door(needs=Role.MEMBER)
@require_http_methods(["GET", "HEAD", "POST"])
def session_missed(request: TeamRequest, pk: int) -> HttpResponse:
    """Mark a session missed: nobody of the lead came."""
    found = _session(request, pk)
    now = moment.now()

    def work(form: ReasonForm) -> str:
        reason = form.cleaned_data["reason"]
        row = mark_missed(session=found, member=request.member, now=now, reason=reason)
        return who_did_it(request, row, "missed", now)

    return act_page(
        request,
        form=_why(request, found),
        work=work,
        url=_url(request, found),
        here="sessions",
        heading="Mark the session missed",
        about=f"{found.lead}: {found.format or 'session'}",
        lede="Nobody of the lead came.",
        button="It was missed",
    )


@door(needs=Role.MEMBER)
@require_http_methods(["GET", "HEAD", "POST"])
def session_cancel(request: TeamRequest, pk: int) -> HttpResponse:
    """Cancel a booked session."""
    found = _session(request, pk)
    now = moment.now()

    def work(form: ReasonForm) -> str:
        reason = form.cleaned_data["reason"]
        row = cancel(session=found, member=request.member, now=now, reason=reason)
        return who_did_it(request, row, "cancelled", now)

    return act_page(
        request,
        form=_why(request, found),
        work=work,
        url=_url(request, found),
        here="sessions",
        heading="Cancel the session",
        lede=who_gets_word(found, now),
        about=f"{found.lead}: {found.format or 'session'}",
        button="Cancel the session",
    )


@door(needs=Role.MEMBER)
@require_POST
def session_back(request: TeamRequest, pk: int) -> HttpResponse:
    """Undo held, missed or cancelled."""
    found = _session(request, pk)

    def work() -> str:
        put_back(session=found, member=request.member, now=moment.now())
        return "The session is booked again."

    return act(request, work=work, url=_url(request, found))
