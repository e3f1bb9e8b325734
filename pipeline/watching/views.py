"""Pages for machines: is it up, can it work, its numbers. They name nobody and no place."""

from __future__ import annotations

import json

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.utils.crypto import constant_time_compare
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe
from prometheus_client import CONTENT_TYPE_LATEST

from pipeline.clock import moment

from .numbers import as_text
from .readiness import checks


@login_not_required
@never_cache
@require_safe
def healthz(request: HttpRequest) -> HttpResponse:
    """Answer: the process does. Asks nobody else."""
    return HttpResponse("ok\n", content_type="text/plain; charset=utf-8")


@login_not_required
@never_cache
@require_safe
def readyz(request: HttpRequest) -> HttpResponse:
    """Tell whether all that the work needs is there: 200, or 503 where something is missing."""
    found = list(checks(moment.shared))
    ready = all(holds for _, holds, _ in found)
    said = {name: ("ok: " if holds else "FAILED: ") + words for name, holds, words in found}
    return HttpResponse(
        json.dumps({"ready": ready, **said}, indent=1) + "\n",
        content_type="application/json",
        status=200 if ready else 503,
    )


@login_not_required
@never_cache
@require_safe
def metrics(request: HttpRequest) -> HttpResponse:
    """Give out the numbers to whoever has METRICS_TOKEN; without one there is no such page."""
    if not settings.METRICS_TOKEN:
        raise Http404
    scheme, _, given = request.headers.get("Authorization", "").partition(" ")
    known = constant_time_compare(given.strip(), settings.METRICS_TOKEN)
    if scheme.lower() != "bearer" or not known:
        # RFC 6750, 3
        error = ', error="invalid_token"' if scheme else ""
        challenge = f'Bearer realm="metrics"{error}'
        return HttpResponse(status=401, headers={"WWW-Authenticate": challenge})
    return HttpResponse(as_text(moment.shared()), content_type=CONTENT_TYPE_LATEST)
