"""The page on which an addressee stops a list of letters, and takes that back."""

from __future__ import annotations

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from pipeline.clock import moment
from pipeline.locks.asking import as_team
from pipeline.teams.models import Team

from . import leaving
from .stopping import Wish, read_wish


# The token in the address is what proves the wish. A second one, in a cookie, no mail program
# has (RFC 8058, 3.2), and it would shut out whoever keeps no cookies.
@csrf_exempt
@never_cache
@login_not_required
@require_http_methods(["GET", "HEAD", "POST"])
def stop(request: HttpRequest, token: str) -> HttpResponse:
    """Ask whether to stop the list, and stop it. Opening the page alone changes nothing."""
    wish = read_wish(token)
    team = Team.objects.filter(pk=wish.team).first() if wish else None
    if wish is None or team is None:
        return render(request, "mail/stop_over.html", status=404)
    with as_team(team.pk):
        return _answer(request, wish, team, token)


def _answer(request: HttpRequest, wish: Wish, team: Team, token: str) -> HttpResponse:
    if request.POST.get("List-Unsubscribe") == "One-Click":
        # RFC 8058, 3.1: by a mail program, which shows no page and follows no redirect.
        leaving.stop(wish, now=moment.now())
        return HttpResponse(f"Stopped: {wish.stops.label} from {team}.\n", "text/plain")
    if request.method == "POST":
        if "again" in request.POST:
            leaving.come_back(wish)
        elif "stop" in request.POST:
            leaving.stop(wish, now=moment.now())
        return redirect("stop-letters", token)
    context = {
        "wish": wish,
        "team_of_letter": team,
        "stopped": leaving.is_stopped(wish),
        "may_come_back": leaving.may_come_back(wish),
    }
    return render(request, "mail/stop.html", context)
