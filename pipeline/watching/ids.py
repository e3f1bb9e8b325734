"""The token by which the lines that belong to one request, or to one task, are found together."""

from __future__ import annotations

import re
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

# From a proxy: nothing that could be a name, an address, or another line.
PLAIN = re.compile(r"[A-Za-z0-9-]{8,64}")

_current: ContextVar[str] = ContextVar("request", default="")


def current_id() -> str:
    """Return the token of what runs now; empty outside any request or task."""
    return _current.get()


@contextmanager
def known_as(given: str = "") -> Iterator[str]:
    """Let what runs in the block be known by ``given``, or by a token of our own."""
    token = given if PLAIN.fullmatch(given) else uuid.uuid4().hex
    before = _current.set(token)
    try:
        yield token
    finally:
        _current.reset(before)
