"""The words in braces that a plan's letter leaves open, to be filled in for each lead."""

from __future__ import annotations

import re

# What may be left open, and what comes in its place.
FILLED_IN = {
    "first name": "the first name of whom you write to",
    "organisation": "the lead",
    "my name": "the member who sends it",
    "session day": "the day of the session",
    "expected money": "the month, or the day, for which they expect money",
}
BLANK = re.compile(r"\{([^{}]*)\}")


def wrong_blanks(text: str) -> str:
    """Return in words what is wrong with the braces in ``text``; empty where nothing is."""
    unknown = [name for name in BLANK.findall(text) if name not in FILLED_IN]
    if unknown:
        known = ", ".join(f"{{{name}}}" for name in FILLED_IN)
        return f"Nothing is known to fill in for {{{unknown[0]}}}; use {known}."
    if set(BLANK.sub("", text)) & set("{}"):
        return "A brace stands alone; write each word to fill in as in {first name}."
    return ""
