"""What somebody is called, found in texts and taken out of them."""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from django.db.models import Q
from django.utils.html import escape

INSTEAD = "erased person"
AROUND = 80


@dataclass(frozen=True)
class Words:
    """Names and addresses, each meant as a whole and whatever its case."""

    sought: tuple[str, ...]

    @classmethod
    def of(cls, words: Iterable[str]) -> Words:
        """Return what is looked for; nothing stands for nobody."""
        plain = (" ".join(word.split()) for word in words)
        return cls(tuple(sorted({word for word in plain if word}, key=len, reverse=True)))

    def __bool__(self) -> bool:
        return bool(self.sought)

    @cached_property
    def _pattern(self) -> re.Pattern[str]:
        alike = {spelling for word in self.sought for spelling in _spellings(word)}
        ordered = sorted(alike, key=len, reverse=True)
        # A name may be broken over two lines; ana@x.example is no part of joana@x.example.
        parts = (r"\s+".join(map(re.escape, spelling.split())) for spelling in ordered)
        return re.compile(rf"(?<![\w.+-])(?:{'|'.join(parts)})(?![\w-]|\.\w|@)", re.IGNORECASE)

    def within(self, text: str) -> bool:
        """Tell whether ``text`` holds one of them."""
        return bool(self.sought) and self._pattern.search(text) is not None

    def without(self, text: str, instead: str = INSTEAD) -> str:
        """Return ``text`` with ``instead`` in their place."""
        return self._pattern.sub(lambda _: instead, text) if self.sought else text

    def around(self, text: str) -> str:
        """Return the first place in ``text`` that holds one of them, with what is about it."""
        found = self._pattern.search(text)
        if found is None:
            return ""
        first, last = max(found.start() - AROUND, 0), found.end() + AROUND
        told = " ".join(text[first:last].split())
        return f"{'…' if first else ''}{told}{'…' if last < len(text) else ''}"

    def strings_in(self, value: Any) -> list[str]:
        """Return the strings anywhere in a JSON value that hold one of them."""
        if isinstance(value, str):
            return [value] if self.within(value) else []
        inner = value.values() if isinstance(value, dict) else value
        if not isinstance(value, (dict, list)):
            return []
        return [found for part in inner for found in self.strings_in(part)]

    def out_of(self, value: Any, instead: str = INSTEAD) -> Any:
        """Return a JSON value with ``instead`` in their place, in all of its strings."""
        if isinstance(value, str):
            return self.without(value, instead)
        if isinstance(value, dict):
            return {key: self.out_of(part, instead) for key, part in value.items()}
        if isinstance(value, list):
            return [self.out_of(part, instead) for part in value]
        return value

    def narrow(self, field: str) -> Q:
        """Return what the database can tell: rows whose ``field`` may hold one of them."""
        found = Q(pk__in=[])
        for word in self.sought:
            for spelling in _spellings(word):
                # One word of a name: what lies between them may be a line's end.
                token = max(spelling.split(), key=len)
                cases = {token}
                if not token.isascii():
                    cases |= {token.lower(), token.upper(), token.title()}
                # As SQLite keeps them in JSON.
                cases |= {json.dumps(case)[1:-1] for case in cases}
                for case in sorted(cases):
                    found |= Q((f"{field}__icontains", case))
        return found


def _spellings(word: str) -> set[str]:
    forms = {unicodedata.normalize(form, word) for form in ("NFC", "NFD")} | {word}
    return forms | {str(escape(form)) for form in forms}
