"""Hand out files that the program has set."""

from __future__ import annotations

from typing import Any

from django.http import FileResponse, HttpResponse
from django.utils.http import content_disposition_header

# A viewer of the browser's own shows the file; nothing else runs with it.
AS_FILE = {
    "Content-Security-Policy": "default-src 'none'; style-src 'unsafe-inline'; object-src 'self'; "
    "frame-ancestors 'none'",
    "Cache-Control": "private, no-store",
    "X-Content-Type-Options": "nosniff",
}


def pdf(content: bytes, name: str) -> HttpResponse:
    """Return a PDF to look at, under its name where it is kept."""
    named = {"Content-Disposition": content_disposition_header(False, name) or "inline"}
    return HttpResponse(content, content_type="application/pdf", headers=AS_FILE | named)


def kept_pdf(file: Any, name: str) -> FileResponse:
    """Return a kept PDF; ``FileNotFoundError`` where it is gone from the disk."""
    return FileResponse(
        file.open("rb"), filename=name, content_type="application/pdf", headers=AS_FILE
    )
