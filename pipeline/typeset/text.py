"""Text that people wrote, fit for a typesetter."""

from __future__ import annotations

from typing import Any
from unicodedata import category

# Marks that turn the direction of what follows them and would tangle the rest of a line, and a
# mark of byte order, which PDF/UA-1 forbids.
DROPPED = frozenset(
    map(chr, (*range(0x202A, 0x202F), *range(0x2066, 0x206A), 0x200E, 0x200F, 0xFEFF))
)
UNPRINTABLE = frozenset({"Cc", "Cs", "Cn"})


def printable(text: str) -> str:
    """Return the text without control characters, lone surrogates, unassigned code points
    and marks of direction, which no typesetter takes; line breaks stay, a tab becomes a space."""
    if text.isascii() and text.isprintable():
        return text
    text = text.replace("\r\n", "\n").replace("\r", "\n").replace("\t", " ")
    return "".join(
        letter
        for letter in text
        if letter == "\n" or not (letter in DROPPED or category(letter) in UNPRINTABLE)
    )


def printable_in(value: Any) -> Any:
    """Return the same content (of dictionaries and lists) with every text fit for a typesetter."""
    if isinstance(value, str):
        return printable(value)
    if isinstance(value, dict):
        return {key: printable_in(part) for key, part in value.items()}
    if isinstance(value, list | tuple):
        return [printable_in(part) for part in value]
    return value
