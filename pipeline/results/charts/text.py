"""Text that people wrote, fit for a drawing or a document."""

from __future__ import annotations

from unicodedata import category

# Marks that turn the direction of what follows them, and would tangle a line of figures.
TURNING = frozenset(map(chr, (*range(0x202A, 0x202F), *range(0x2066, 0x206A), 0x200E, 0x200F)))
UNPRINTABLE = frozenset({"Cc", "Cs", "Cn"})


def printable(text: str) -> str:
    """Return the text without control characters, lone surrogates, unassigned code points
    and marks of direction, which neither XML nor a typesetter takes; line breaks stay."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(
        letter
        for letter in text
        if letter == "\n" or not (letter in TURNING or category(letter) in UNPRINTABLE)
    )
