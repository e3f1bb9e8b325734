"""What a browser may load and run: our own files, nothing inline, nobody else's.

And what it may lend: no camera or place to a page of ours, no file of ours to others' pages.
"""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest
from django.http.response import HttpResponseBase

POLICY = "; ".join(
    [
        "default-src 'self'",
        "img-src 'self' data:",
        "frame-src 'self'",
        "frame-ancestors 'none'",
        "form-action 'self'",
        "base-uri 'none'",
        "object-src 'none'",
    ]
)

# None of these is ever asked for, so nothing that slipped into a page can ask either.
NOT_LENT = (
    "accelerometer",
    "camera",
    "display-capture",
    "encrypted-media",
    "geolocation",
    "gyroscope",
    "hid",
    "idle-detection",
    "local-fonts",
    "magnetometer",
    "microphone",
    "midi",
    "payment",
    "serial",
    "usb",
    "xr-spatial-tracking",
)
# Of a response that brings its own, that holds.
HEADERS = {
    "Content-Security-Policy": POLICY,
    "Permissions-Policy": ", ".join(f"{feature}=()" for feature in NOT_LENT),
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}


def tell_browsers(
    get_response: Callable[[HttpRequest], HttpResponseBase],
) -> Callable[[HttpRequest], HttpResponseBase]:
    """Send ``HEADERS`` with every response, also with those of static files."""

    def middleware(request: HttpRequest) -> HttpResponseBase:
        response = get_response(request)
        for name, value in HEADERS.items():
            response.headers.setdefault(name, value)
        return response

    return middleware
