"""Read a page's form as a browser would, so that a test posts what the page held."""

from __future__ import annotations

from html.parser import HTMLParser
from typing import Any

from django.http import HttpResponse
from django.urls import reverse


def url(name: str, *args: Any) -> str:
    """Return an address of Harbour Studio."""
    return reverse(name, args=["harbour", *args])


class _Forms(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.fields: dict[str, list[str]] = {}
        self.inside = False
        self.area: str | None = None
        self.select: str | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        a = dict(attrs)
        name, value = a.get("name"), a.get("value") or ""
        if tag == "form":
            self.inside = a.get("method") == "post" and a.get("action") in ("", None)
        here = self.inside or "form" in a
        if tag == "input" and here and name:
            ticked = a.get("type") not in ("checkbox", "radio") or "checked" in a
            if ticked:
                self.fields.setdefault(name, []).append(value)
        elif tag == "textarea" and here:
            self.area = name
            self.fields[name or ""] = [""]
        elif tag == "select" and here:
            self.select = name
        elif tag == "option" and self.select and "selected" in a:
            self.fields.setdefault(self.select, []).append(value)

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self.inside = False
        elif tag == "textarea":
            self.area = None
        elif tag == "select":
            self.select = None

    def handle_data(self, data: str) -> None:
        if self.area is not None:
            # the line end after the tag is not part of the words
            text = self.fields[self.area][0] + data
            self.fields[self.area] = [text.removeprefix("\n")]


def form_of(response: HttpResponse) -> dict[str, list[str]]:
    """Return what the page's own form would post if its button were pressed now."""
    parser = _Forms()
    parser.feed(response.content.decode())
    parser.fields.pop("csrfmiddlewaretoken", None)
    return parser.fields


def fill(response: HttpResponse, **typed: Any) -> dict[str, Any]:
    """Return the page's form with some boxes filled differently."""
    return {**form_of(response), **typed}
