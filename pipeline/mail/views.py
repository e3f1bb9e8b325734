"""The letters that the app keeps: a member's own, and for an owner all of the team's."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.clickjacking import xframe_options_sameorigin
from django.views.decorators.http import require_POST, require_safe

from pipeline.claims.waking import wake
from pipeline.clock import moment
from pipeline.teams.models import Role
from pipeline.teams.tenancy import TeamRequest, door, fetch

from .message import calendar_method, message_of
from .models import Letter
from .outbox import message_id

A_PAGE = 50

# A letter may bring its own looks, and nothing else: no script, no picture from elsewhere. Its
# links open by themselves.
AS_SENT = "; ".join(
    [
        "sandbox allow-popups allow-popups-to-escape-sandbox",
        "default-src 'none'",
        "style-src 'unsafe-inline'",
        "img-src data:",
        "frame-ancestors 'self'",
    ]
)


# By its method (RFC 5546).
WHAT_A_CALENDAR_FILE_ASKS = {
    "REQUEST": "an invitation: whoever gets it is asked to accept or to decline",
    "CANCEL": "a cancellation: it takes the entry off the calendar",
    "PUBLISH": "entries to be kept, without an answer",
}


def _visible(request: TeamRequest) -> Any:
    return Letter.objects.for_outbox().visible_to(request.member)


@door()
@require_safe
def letters(request: TeamRequest) -> HttpResponse:
    """List letters, the newest first."""
    rows = _visible(request).for_team(request.team)
    page = Paginator(rows, A_PAGE).get_page(request.GET.get("page"))
    return render(request, "mail/letters.html", {"here": "team", "page": page, **_now()})


@door()
@require_safe
def letter(request: TeamRequest, pk: int) -> HttpResponse:
    """Show one letter."""
    row = fetch(_visible(request), request.team, pk=pk)
    return render(
        request,
        "mail/letter.html",
        {
            "here": "team",
            "letter": row,
            "message_id": message_id(row),
            "asks": WHAT_A_CALENDAR_FILE_ASKS.get(calendar_method(row), ""),
            **_now(),
        },
    )


def _now() -> dict[str, Any]:
    """Return what ``mail/_state.html`` wants beside a letter."""
    return {"now": moment.now(), "sends": settings.MAIL_SERVER is not None}


@door(needs=Role.OWNER)
@require_POST
def again(request: TeamRequest, pk: int) -> HttpResponse:
    """Have a letter that was given up sent anew; it keeps its Message-ID."""
    row = fetch(_visible(request), request.team, pk=pk)
    if Letter.objects.filter(pk=row.pk).revive(now=moment.now()):
        wake()
        messages.success(request, "It is being sent again. This page says what comes of it.")
    else:
        messages.info(request, "This letter was not given up. Nothing was changed.")
    return redirect("letter", request.team.slug, row.pk)


@door()
@xframe_options_sameorigin
@require_safe
def as_sent(request: TeamRequest, pk: int) -> HttpResponse:
    """Return a letter's HTML as it is sent, locked into itself."""
    row = fetch(_visible(request), request.team, pk=pk)
    if not row.html:
        raise Http404
    return HttpResponse(row.html, headers={"Content-Security-Policy": AS_SENT})


@door()
@require_safe
def calendar(request: TeamRequest, pk: int) -> HttpResponse:
    """Hand out the calendar file that goes with a letter."""
    row = fetch(_visible(request), request.team, pk=pk)
    if not row.calendar:
        raise Http404
    method = calendar_method(row)
    kind = f"text/calendar; method={method}" if method else "text/calendar"
    return HttpResponse(
        row.calendar,
        content_type=f"{kind}; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="letter-{row.pk}.ics"'},
    )


@door()
@require_safe
def message(request: TeamRequest, pk: int) -> HttpResponse:
    """Hand out a letter as the message that a mail server would be given."""
    row = fetch(_visible(request), request.team, pk=pk)
    return HttpResponse(
        message_of(row).as_bytes(),
        content_type="message/rfc822",
        headers={"Content-Disposition": f'attachment; filename="letter-{row.pk}.eml"'},
    )
