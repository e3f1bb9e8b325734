"""A line in the log for each request and each task: which, what came of it, how long it took."""

from __future__ import annotations

import logging
import time
from collections.abc import Callable
from functools import wraps
from typing import ParamSpec, TypeVar

from django.http import HttpRequest
from django.http.response import HttpResponseBase

from .ids import known_as

requests_log = logging.getLogger("pipeline.requests")
tasks_log = logging.getLogger("pipeline.tasks")

# Asked again and again by machines, and our own files: told only where something is wrong.
QUIET = {"healthz", "readyz", "metrics", "-"}

P = ParamSpec("P")
R = TypeVar("R")


def tell_requests(
    get_response: Callable[[HttpRequest], HttpResponseBase],
) -> Callable[[HttpRequest], HttpResponseBase]:
    """Give each request its token and log it by its route's name.

    Never by its path or query, nor by who asked: these name people, and some paths open doors.
    """

    def middleware(request: HttpRequest) -> HttpResponseBase:
        begun = time.monotonic()
        with known_as(request.headers.get("X-Request-ID", "")) as token:
            response = get_response(request)
            response.headers["X-Request-ID"] = token
            match = request.resolver_match
            route = (match and match.url_name) or "-"
            quiet = response.status_code < 400 and route in QUIET
            said = {
                "method": request.method,
                "route": route,
                "status": response.status_code,
                "ms": _ms_since(begun),
            }
            requests_log.log(
                logging.DEBUG if quiet else logging.INFO,
                "%(method)s %(route)s: %(status)s in %(ms)s ms",
                said,
                extra=said,
            )
        return response

    return middleware


def told(name: str) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Let the log tell of each call of a task under its ``name``; its error is for the caller."""

    def wrap(task: Callable[P, R]) -> Callable[P, R]:
        @wraps(task)
        def run(*args: P.args, **kwargs: P.kwargs) -> R:
            begun = time.monotonic()
            with known_as():
                came = "failed"
                try:
                    done = task(*args, **kwargs)
                    came = "done"
                    return done
                finally:
                    said = {"task": name, "status": came, "ms": _ms_since(begun)}
                    tasks_log.info("%(task)s %(status)s in %(ms)s ms", said, extra=said)

        return run

    return wrap


def _ms_since(begun: float) -> int:
    return round((time.monotonic() - begun) * 1000)
