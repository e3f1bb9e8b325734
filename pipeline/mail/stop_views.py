"""The page on which an addressee stops a list of letters."""

from __future__ import annotations

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from .stopping import read_wish


@login_not_required
@require_safe
def stop(request: HttpRequest, token: str) -> HttpResponse:
    """Ask whether to stop the list. Opening the page alone changes nothing."""
    wish = read_wish(token)
    if wish is None:
        return render(request, "mail/stop_over.html", status=404)
    return render(request, "mail/stop.html", {"wish": wish})
