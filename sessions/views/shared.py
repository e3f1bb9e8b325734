"""What a lead opens: a page with one button, and behind it the file. Nobody needs an account."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from pipeline.clock import moment
from pipeline.teams.forms import OnceForm, key_of
from pipeline.teams.once import do_once
from pipeline.teams.tenancy import opened_by
from sessions.models import SharedTakeaway
from sessions.takeaways.sending import count_opening

from .handing_out import kept_pdf

# The address is the secret: no other site is told of it, and no search engine keeps it. Our own
# must be told: with no referrer at all the button's origin would not be known.
UNTOLD = {"Referrer-Policy": "same-origin", "X-Robots-Tag": "noindex, nofollow"}


def _untold(answer: HttpResponseBase) -> HttpResponseBase:
    for name, value in UNTOLD.items():
        answer.headers[name] = value
    return answer


def _over(request: HttpRequest, found: SharedTakeaway) -> HttpResponseBase:
    page = render(request, "sessions/takeaways/shared_over.html", {"shared": found}, status=410)
    return _untold(page)


Shown = Callable[[HttpRequest, SharedTakeaway], HttpResponseBase]


def _by_token(view: Shown) -> Callable[[HttpRequest, str], HttpResponseBase]:
    """Let a view be entered with the secret of what was shared, while that is open."""

    @wraps(view)
    def entered(request: HttpRequest, token: str) -> HttpResponseBase:
        rows: Any = SharedTakeaway.objects.select_related("team", "session__lead")
        with opened_by(rows, token) as found:
            if found is None:
                raise Http404
            if found.ended_at is not None:
                return _over(request, found)
            return view(request, found)

    return entered


@never_cache
@login_not_required
@require_http_methods(["GET", "HEAD", "POST"])
@_by_token
def shared(request: HttpRequest, found: SharedTakeaway) -> HttpResponseBase:
    """Show what there is to open; the button counts an opening and leads to the file."""
    form = OnceForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        now = moment.now()

        def work() -> str:
            count_opening(found, now=now)
            return reverse("shared-file", args=[found.token])

        url, _ = do_once(team=found.team, key=key_of(form), now=now, work=work)
        return redirect(url)
    status = 422 if form.is_bound else 200
    context = {"shared": found, "form": form}
    page = render(request, "sessions/takeaways/shared.html", context, status=status)
    return _untold(page)


@login_not_required
@require_safe
@_by_token
def shared_file(request: HttpRequest, found: SharedTakeaway) -> HttpResponseBase:
    """Hand out the file as it was sent."""
    try:
        return _untold(kept_pdf(found.file, found.file_name))
    except FileNotFoundError as missing:
        raise Http404 from missing
