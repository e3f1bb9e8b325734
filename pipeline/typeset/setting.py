"""Content in, PDF out: one way for every document.

What people wrote goes to the typesetter as data and never as markup. A document is tagged to
PDF/UA-1, which refuses a character that no font has; then it is tagged all the same, makes no such
claim, and the characters are named. The same content gives the same bytes.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import Any

import typst
from django.conf import settings

from .fonts import fonts
from .text import printable_in

# Templates read nothing outside this folder, and what people wrote reads nothing at all.
ROOT: Path = settings.BASE_DIR / "templates"

# How the typesetter names a character that no font has.
MISSING = re.compile(r'the text `"(.*?)"` could not be displayed')
ESCAPED = re.compile(r"\\u\{([0-9a-f]+)\}")
# Sets one picture, as pictures are set in documents.
TRIAL = b"""
#set page(width: 60mm, height: 60mm)
#image(bytes(json(bytes(sys.inputs.content)).picture), width: 40mm, height: 20mm, fit: "contain")
"""


class CannotBeSet(Exception):
    """The typesetter refused a document as a whole; says why in its words."""


@dataclass(frozen=True)
class Document:
    """A PDF; ``missing`` names each character that could not be set, in order of code points."""

    pdf: bytes
    missing: tuple[str, ...] = ()

    @property
    def accessible(self) -> bool:
        """Whether it claims to be PDF/UA-1."""
        return not self.missing


def set_document(template: str, content: Mapping[str, Any], *, day: date) -> Document:
    """Set ``content`` by the typst file ``template`` below the templates, dated ``day``.

    The template reads the content by ``json(bytes(sys.inputs.content))``. Raises
    ``CannotBeSet`` where the typesetter refuses more than some characters.
    """
    compiler = typst.Compiler(
        input=ROOT / template,
        root=ROOT,
        font_paths=fonts(),
        sys_inputs={"content": json.dumps(printable_in(content), ensure_ascii=False)},
    )
    stamp = datetime.combine(day, time(), UTC)
    try:
        return Document(_pdf(compiler, stamp, ua=True))
    except typst.TypstError as error:
        missing = missing_in(error.diagnostic)
        if not missing:
            raise CannotBeSet(error.message) from error
        return Document(_pdf(compiler, stamp, ua=False), missing)


def _pdf(compiler: typst.Compiler, stamp: datetime, *, ua: bool) -> bytes:
    done = compiler.compile(format="pdf", pdf_standards="ua-1" if ua else [], timestamp=stamp)
    assert isinstance(done, bytes)
    return done


def missing_in(diagnostic: str) -> tuple[str, ...]:
    """Return the characters that a diagnostic says no font has, each once."""
    found = set()
    for text in MISSING.findall(diagnostic):
        found |= set(ESCAPED.sub(lambda code: chr(int(code[1], 16)), text))
    return tuple(sorted(found))


def can_be_set(picture: bytes) -> bool:
    """Tell whether a document can show this picture."""
    compiler = typst.Compiler(
        input=TRIAL,
        font_paths=fonts(),
        sys_inputs={"content": json.dumps({"picture": list(picture)})},
    )
    try:
        compiler.compile(format="pdf")
    except typst.TypstError:
        return False
    return True
