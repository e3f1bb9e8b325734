"""A log of one JSON object a line, in which nobody is named.

Of our own loggers the message stands there whole: it is written so that it names nobody. Others
fill theirs with addresses and what was typed, so only the unfilled words are kept. Of an error
stands there which it was and where, and never what it said.
"""

from __future__ import annotations

import json
import logging
import traceback
from datetime import UTC, datetime
from types import TracebackType
from typing import Any

from .ids import current_id

OURS = ("pipeline", "sessions")
# What our own lines may add; set by ``extra``.
FIELDS = ("method", "route", "status", "task", "ms")
# Frames of an error, the innermost.
FRAMES = 12


class JsonLines(logging.Formatter):
    """Formats each record as one line of JSON."""

    def format(self, record: logging.LogRecord) -> str:
        """Return the line for ``record``."""
        said: dict[str, Any] = {
            "time": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "logger": record.name,
            "message": _message(record),
        }
        if current_id():
            said["request"] = current_id()
        said |= {name: getattr(record, name) for name in FIELDS if hasattr(record, name)}
        if record.exc_info and record.exc_info[0] is not None:
            kind, _, trace = record.exc_info
            said["error"] = kind.__qualname__
            said["at"] = _places(trace)
        return json.dumps(said, ensure_ascii=False)


def _message(record: logging.LogRecord) -> str:
    if record.name.partition(".")[0] in OURS:
        return record.getMessage()
    # Django's words for it are all filling.
    status = getattr(record, "status_code", None)
    return f"answered {status}" if status else str(record.msg)


def _places(trace: TracebackType | None) -> list[str]:
    frames = traceback.extract_tb(trace)[-FRAMES:]
    return [f"{frame.filename}:{frame.lineno} {frame.name}" for frame in frames]
