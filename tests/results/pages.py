"""What a reader sees on a page, what is drawn on it, and what it asks of the database."""

from __future__ import annotations

import re
from html import unescape
from xml.etree import ElementTree

SPACE = {"s": "http://www.w3.org/2000/svg"}


def text_of(response) -> str:
    """What a reader sees, on one line."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", response.content.decode())).split())


def drawings(response) -> dict[str, ElementTree.Element]:
    """The drawings on a page by their names."""
    found = re.findall(r"<svg.*?</svg>", response.content.decode(), re.S)
    parsed = [ElementTree.fromstring(text) for text in found]
    return {svg.get("aria-labelledby").split("-title")[0]: svg for svg in parsed}
