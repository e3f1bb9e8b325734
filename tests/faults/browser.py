"""Somebody who types into the app's forms, over plain HTTP."""

from __future__ import annotations

import http.client
import urllib.error
import urllib.parse
import urllib.request
from html.parser import HTMLParser
from http.cookiejar import CookieJar
from typing import Any

OWNER = "owner@faults.example"
PASSWORD = "no-secret-of-anybody"

# What comes of a server that dies in the middle, or has not come up again.
GONE = (OSError, http.client.HTTPException)


class _Hidden(HTMLParser):
    """The hidden fields of a page's forms."""

    def __init__(self) -> None:
        super().__init__()
        self.fields: dict[str, str] = {}

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        a = dict(attrs)
        if tag == "input" and a.get("name") and a.get("type") != "checkbox":
            self.fields[str(a["name"])] = a.get("value") or ""


class _Stay(urllib.request.HTTPRedirectHandler):
    """Follows no redirect: it is the answer."""

    def redirect_request(self, *args: Any, **kwargs: Any) -> None:
        return None


class Browser:
    """One person's browser."""

    def __init__(self, url: str) -> None:
        self._url = url
        self._opener = urllib.request.build_opener(
            urllib.request.HTTPCookieProcessor(CookieJar()), _Stay
        )

    def sign_in(self) -> None:
        """Sign in as the owner of the team."""
        fields = self.form("/sign-in/")
        fields |= {"username": OWNER, "password": PASSWORD}
        assert self.post("/sign-in/", fields) == 302

    def form(self, path: str) -> dict[str, str]:
        """Return what the form of a page holds before anything is typed."""
        with self._opener.open(self._url + path, timeout=20) as answer:
            found = _Hidden()
            found.feed(answer.read().decode())
            return found.fields

    def post(self, path: str, fields: dict[str, str]) -> int:
        """Post a form; returns the answer's status."""
        data = urllib.parse.urlencode(fields).encode()
        try:
            with self._opener.open(self._url + path, data, timeout=20) as answer:
                return int(answer.status)
        except urllib.error.HTTPError as error:
            return error.code
