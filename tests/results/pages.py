"""What a reader sees on a page, what is drawn on it, and what it asks of the database."""

from __future__ import annotations

import re
from collections.abc import Callable
from html import unescape
from xml.etree import ElementTree

from django.db import connection
from django.test.utils import CaptureQueriesContext

SPACE = {"s": "http://www.w3.org/2000/svg"}


def text_of(response) -> str:
    """What a reader sees, on one line."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", response.content.decode())).split())


def drawings(response) -> dict[str, ElementTree.Element]:
    """The drawings on a page by their names."""
    found = re.findall(r"<svg.*?</svg>", response.content.decode(), re.S)
    parsed = [ElementTree.fromstring(text) for text in found]
    return {svg.get("aria-labelledby").split("-title")[0]: svg for svg in parsed}


def tables(ask: Callable[[], object]) -> list[str]:
    """For each query, the tables that it reads, in order of name; a query that writes fails."""
    with CaptureQueriesContext(connection) as caught:
        ask()
    read = []
    for query in caught:
        assert query["sql"].startswith(("SELECT ", "WITH ")), query["sql"]
        named = set(re.findall(r'(?:FROM|JOIN)\s+"?(\w+_\w+)"?', query["sql"]))
        read.append(" ".join(sorted(named - CTES)))
    return read


# What is no table but a relation named within a query.
CTES = {"first_sent"}
