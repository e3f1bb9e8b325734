"""The forms of a page, as a browser would find them: where each goes, and what stands in it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any
from urllib.parse import parse_qsl, urljoin, urlsplit

from django.test import Client
from django.urls import resolve

from tests.access.everything import address, outside_paths
from tests.access.test_matrix import TABLE
from tests.conftest import Cast

MADE_FOR_THE_BROWSER = ("csrfmiddlewaretoken",)
PRESSED = ("submit", "button", "image", "reset")


@dataclass
class Field:
    """One name in a form: what kind of box it is, what stands in it, what it offers."""

    kind: str
    values: list[str] = field(default_factory=list)
    offers: list[str] = field(default_factory=list)


@dataclass
class Form:
    """A form and the page on which it was found."""

    page: str
    action: str
    method: str
    fields: dict[str, Field] = field(default_factory=dict)
    # Who found it.
    browser: Client = field(default_factory=Client, repr=False)

    @property
    def goes_to(self) -> str:
        """The name of the address to which it goes."""
        return resolve(urlsplit(self.action).path).url_name or "/"

    @property
    def name(self) -> str:
        """The address to which it goes, and its fields: what makes it a form of its own."""
        return f"{self.goes_to} ({', '.join(self.fields) or 'a button'})"

    def filled(self) -> dict[str, list[str]]:
        """Return what would be sent if its button were pressed now."""
        return {name: list(box.values) for name, box in self.fields.items() if box.values}


class _Reader(HTMLParser):
    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.page = page
        self.forms: list[Form] = []
        self.by_id: dict[str, Form] = {}
        self.asked: dict[str, list[str]] = {}
        self.form: Form | None = None
        self.box: Field | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        a = {name: value or "" for name, value in attrs}
        if tag == "form":
            action = urljoin(self.page, a.get("action", ""))
            self.form = Form(self.page, action, a.get("method", "get").lower())
            self.forms.append(self.form)
            if "id" in a:
                self.by_id[a["id"]] = self.form
        elif tag == "a":
            to = urlsplit(urljoin(self.page, a.get("href", "")))
            if to.path == urlsplit(self.page).path:
                for name, value in parse_qsl(to.query, keep_blank_values=True):
                    self.asked.setdefault(name, []).append(value)
        elif tag in ("input", "select", "textarea", "button") and a.get("name"):
            self._box(tag, a)
        elif tag == "option" and self.box is not None:
            self.box.offers.append(a.get("value", ""))
            if "selected" in a:
                self.box.values.append(a.get("value", ""))

    def _box(self, tag: str, a: dict[str, str]) -> None:
        kind = a.get("type", "text") if tag == "input" else tag
        if a["name"] in MADE_FOR_THE_BROWSER:
            return
        box = self._of(a).setdefault(a["name"], Field(kind))
        if tag == "input" and kind not in ("file", *PRESSED):
            ticked = kind in ("checkbox", "radio")
            value = a.get("value", "on" if ticked else "")
            if ticked:
                box.offers.append(value)
            if not ticked or "checked" in a:
                box.values.append(value)
        elif tag == "button" or kind in PRESSED:
            box.offers.append(a.get("value", ""))
        elif tag == "textarea":
            box.values.append("")
        self.box = box if tag in ("select", "textarea") else None

    def _of(self, a: dict[str, str]) -> dict[str, Field]:
        if form := self.by_id.get(a.get("form", "")) or self.form:
            return form.fields
        return {}

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self.form = None
        if tag in ("select", "textarea"):
            if self.box is not None and tag == "select" and not self.box.values:
                self.box.values = self.box.offers[:1]
            if self.box is not None and tag == "textarea":
                self.box.values[-1] = self.box.values[-1].removeprefix("\n")
            self.box = None

    def handle_data(self, data: str) -> None:
        if self.box is not None and self.box.kind == "textarea":
            self.box.values[-1] += data


def forms_of(page: str, html: str) -> list[Form]:
    """Return the forms of a page, and its own links' questions as one more that asks."""
    reader = _Reader(page)
    reader.feed(html)
    if reader.asked:
        asks = {name: Field("text", [values[0]]) for name, values in reader.asked.items()}
        reader.forms.append(Form(page, urlsplit(page).path, "get", asks))
    return reader.forms


def every_form(cast: Cast, rows: dict[str, Any], team: Client, nobody: Client) -> Iterator[Form]:
    """Return each form once that an owner finds at the team's addresses, or anybody outside.

    Nothing is listed here: a new page's forms are found because its address has to be in the
    table.
    """
    paths = [
        address(name, "harbour", rows[row] if row else None) for name, (row, *_) in TABLE.items()
    ]
    outside = outside_paths(cast, rows)
    pages = [(team, path) for path in paths]
    pages += [(who, path) for path in outside.values() for who in (nobody, team)]
    seen = set()
    for browser, path in pages:
        answer = browser.get(path)
        if answer.streaming:
            # read to its end, so that its file is closed
            _ = b"".join(answer)
        if answer.streaming or not answer.headers["Content-Type"].startswith("text/html"):
            continue
        for form in forms_of(path, answer.content.decode()):
            form.browser = browser
            if (form.method, form.name) not in seen:
                seen.add((form.method, form.name))
                yield form
