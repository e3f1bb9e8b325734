"""Characters that could not be set, so that a person finds them."""

from __future__ import annotations

from collections.abc import Iterable
from unicodedata import name


def named(characters: Iterable[str]) -> list[str]:
    """Return each character with its code point and name, as ``ꦀ (U+A980, JAVANESE …)``."""
    return [f"{c} (U+{ord(c):04X}, {name(c, 'without a name')})" for c in characters]
