"""A member's feed: the page with its address, and the file that other programs read."""

from __future__ import annotations

import hashlib

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.cache import get_conditional_response
from django.views.decorators.http import require_POST, require_safe

from pipeline.clock import moment
from pipeline.followups.feed import change_feed, end_feed, feed_of
from pipeline.followups.models import Feed
from pipeline.teams.models import Role
from pipeline.teams.tenancy import TeamRequest, door, opened_by


@door()
@require_safe
def feed(request: TeamRequest) -> HttpResponse:
    """Show the member's own address, and nobody else's."""
    mine = Feed.objects.for_team(request.team).filter(member=request.member).first()
    address = f"{settings.BASE_URL}{reverse('feed-file', args=[mine.token])}" if mine else ""
    return render(
        request, "followups/feed.html", {"here": "team", "feed": mine, "address": address}
    )


@door(needs=Role.MEMBER)
@require_POST
def feed_change(request: TeamRequest) -> HttpResponse:
    """Make an address, or another in place of the one that stood on the page.

    The second click on one button finds that one gone, and changes nothing.
    """
    mine = Feed.objects.for_team(request.team).filter(member=request.member).first()
    if (mine.token if mine else "") == request.POST.get("instead_of", ""):
        change_feed(member=request.member, now=moment.now())
        messages.success(request, "This is your calendar's new address.")
    else:
        messages.info(request, "The address was changed already; this is the one that holds.")
    return redirect("feed", request.team.slug)


@door(needs=Role.MEMBER)
@require_POST
def feed_end(request: TeamRequest) -> HttpResponse:
    """End the address: whoever has it reads nothing any more."""
    if end_feed(member=request.member):
        messages.success(request, "The address has ended. Nobody reads your calendar by it.")
    else:
        messages.info(request, "There is no address to end.")
    return redirect("feed", request.team.slug)


@login_not_required
@require_safe
def feed_file(request: HttpRequest, token: str) -> HttpResponseBase:
    """Hand out a member's calendar; 304 where the reader has it as it is.

    Whoever has left, or may sign in no more, has no feed.
    """
    with opened_by(Feed.objects.in_use(), token) as feed:
        if feed is None:
            raise Http404
        content = feed_of(feed.member, moment.now()).encode()
    response = HttpResponse(
        content,
        content_type="text/calendar; charset=utf-8",
        headers={
            "ETag": f'"{hashlib.sha256(content).hexdigest()[:32]}"',
            # kept by nobody in between, and asked for again each time
            "Cache-Control": "private, no-cache",
            "Referrer-Policy": "no-referrer",
            "X-Robots-Tag": "noindex",
        },
    )
    return get_conditional_response(request, etag=response["ETag"], response=response) or response
