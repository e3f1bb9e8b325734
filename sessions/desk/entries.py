"""What a browser sends from the desk: small entries, each with the key it was typed under.

An entry is what one form holds, field by field, so that a page without JavaScript posts the very
same; there a form may hold many lines, each of which becomes an entry.
"""

from __future__ import annotations

import unicodedata
import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from pipeline.teams.refused import Refused
from sessions.models.caught import LONGEST_TEXT

# An entry's own moment is believed when it lies at most so far back.
AT_MOST_AGO = timedelta(days=14)
HEADING = "#"


def plain(text: str) -> str:
    """Return typed text without what no text holds: control characters, halves of characters."""
    text = text.replace("\r\n", "\n").replace("\r", "\n").replace("\t", " ")
    kept = (c for c in text if c == "\n" or unicodedata.category(c) not in ("Cc", "Cs"))
    return "".join(kept).strip()


@dataclass(frozen=True)
class Entry:
    """One entry. ``said`` are the fields of its form."""

    kind: str
    key: uuid.UUID
    at: datetime
    said: Mapping[str, str]

    def text(self, *, longest: int = LONGEST_TEXT, empty: bool = False) -> str:
        """Return the typed text; ``Refused`` where it is missing or too long."""
        text = plain(self.said.get("text", ""))
        if not text and not empty:
            raise Refused("Write something first.", "text")
        if len(text) > longest:
            raise Refused(
                f"This has {len(text):,} characters; {longest:,} are the most. Send it in parts.",
                "text",
            )
        return text

    @property
    def was(self) -> str:
        """Return the text that was there when the person began to change it."""
        return plain(self.said.get("was", ""))

    def key_of(self, name: str) -> uuid.UUID | None:
        """Return the key in a field; ``None`` where it holds none."""
        return _uuid(self.said.get(name, ""))

    def number(self, name: str, least: int, most: int) -> int:
        """Return the number in a field; ``Refused`` unless it is from ``least`` to ``most``."""
        try:
            number = int(self.said.get(name, "").strip())
        except ValueError:
            number = least - 1
        if not least <= number <= most:
            raise Refused(f"Give a whole number from {least} to {most} for {name}.", name)
        return number


def read_entry(said: object, now: datetime) -> Entry | None:
    """Return the entry that a browser sent as JSON; ``None`` where it is none."""
    if not isinstance(said, dict):
        return None
    fields = {str(name): _as_text(value) for name, value in said.items()}
    key = _uuid(fields.get("key", ""))
    if key is None:
        return None
    return Entry(fields.get("kind", ""), key, _when(fields.get("at", ""), now), fields)


def entries_of_form(posted: Mapping[str, str], now: datetime) -> list[Entry]:
    """Return the entries that one posted form holds: one for each line of what is caught.

    The key of each tells what it says, too: who goes back to a form, changes a line and posts it
    again has that line taken in, and none of the others twice.
    """
    fields = {name: str(value) for name, value in posted.items() if name != "csrfmiddlewaretoken"}
    key = _uuid(fields.get("key", ""))
    if key is None:
        return []

    def made(kind: str, number: int, said: dict[str, str]) -> Entry:
        words = repr((kind, number, sorted(said.items())))
        return Entry(kind, uuid.uuid5(key, words), now, said)

    kind = fields.get("kind", "")
    lines = plain(fields.get("text", "")).split("\n") if kind in ("note", "statement") else []
    found: list[Entry] = []
    under = fields.get("theme", "")
    for line in filter(None, (line.strip() for line in lines)):
        if kind == "note" and line.startswith(HEADING):
            title = line.lstrip(HEADING).strip()
            found.append(made("theme", len(found), fields | {"text": title}))
            under = str(found[-1].key)
        else:
            said = fields | {"text": line, "theme": under}
            found.append(made(kind, len(found), said))
    return found or [made(kind, 0, fields)]


def _as_text(value: Any) -> str:
    return "" if value is None else str(value)


def _uuid(text: str) -> uuid.UUID | None:
    try:
        return uuid.UUID(text)
    except ValueError:
        return None


def _when(text: str, now: datetime) -> datetime:
    """Return the moment in milliseconds since 1970 that ``text`` claims, if it may be true."""
    try:
        claimed = datetime.fromtimestamp(int(text) / 1000, UTC)
    except (ValueError, OverflowError, OSError):
        return now
    return claimed if now - AT_MOST_AGO <= claimed <= now else now
