"""What the browser is told on every page: load our own files only, and run nothing inline."""

import re
from pathlib import Path

import pytest
from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.test import Client
from django.urls import reverse

from pipeline.teams.headers import HEADERS, POLICY, tell_browsers
from tests.access.everything import address, one_of_each, outside_paths
from tests.access.test_matrix import TABLE

ROOT = Path(__file__).resolve().parents[2]
TEMPLATES = sorted((ROOT / "templates").rglob("*.html"))


# Whatever the answer is.
ALWAYS = {
    "X-Content-Type-Options": "nosniff",
    "Permissions-Policy": HEADERS["Permissions-Policy"],
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}
# The two that bring a policy of their own, with a style within, and why: a letter is shown as it
# is sent, locked into a frame of ours where nothing runs; the browser's own viewer of PDF files
# brings its style with it.
AS_SENT = re.compile(r"sandbox [a-z -]+; default-src 'none'; .*frame-ancestors 'self'")
IN_THE_VIEWER = re.compile(r"default-src 'none';.* frame-ancestors 'none'")


def wrong(answer: HttpResponseBase) -> list[str]:
    """Return what a browser is not told with an answer, or wrongly."""
    headers = answer.headers
    found = [name for name, value in ALWAYS.items() if headers.get(name) != value]
    # tighter still where the address is a secret that no page of ours needs to hear of
    if headers.get("Referrer-Policy") not in ("same-origin", "no-referrer"):
        found.append("Referrer-Policy")
    policy, framed = headers["Content-Security-Policy"], headers.get("X-Frame-Options")
    if framed == "SAMEORIGIN":
        right = AS_SENT.fullmatch(policy)
    elif headers["Content-Type"] == "application/pdf":
        right = policy == POLICY or IN_THE_VIEWER.fullmatch(policy)
    else:
        right = policy == POLICY
    return found if right else [*found, policy]


def read(answer: HttpResponseBase) -> bytes:
    """Read an answer to its end, so that its file is closed."""
    return b"".join(answer) if answer.streaming else answer.content


def test_every_answer_at_every_address_tells_the_browser_the_rules(client, cast, sign_in):
    rows = one_of_each(cast)
    owner = sign_in(cast.owner)
    paths = outside_paths(cast, rows) | {
        name: address(name, "harbour", rows[row] if row else None)
        for name, (row, *_) in TABLE.items()
    }
    paths |= {"nothing": "/nothing/here/", "stranger": "/t/quarry/team/"}
    found = {}
    for name, path in paths.items():
        # as far as anybody gets
        answer = owner.get(path) if path.startswith("/t/") else client.get(path)
        read(answer)
        if said := wrong(answer):
            found[name] = said
    assert found == {}


def test_no_file_beside_the_pages_goes_without_the_rules(client, cast):
    for path in ("/static/app.css", "/static/once.js"):
        answer = client.get(path)
        read(answer)
        assert (answer.status_code, wrong(answer)) == (200, [])
        assert "Access-Control-Allow-Origin" not in answer.headers


def test_a_form_without_its_token_is_refused_and_told_the_rules(cast):
    browser = Client(enforce_csrf_checks=True)
    browser.force_login(cast.owner.user)
    answer = browser.post(address("lead-new", "harbour"))
    assert (answer.status_code, wrong(answer)) == (403, [])


def test_cookies_are_kept_from_scripts_and_from_other_sites(client, cast):
    user = cast.member.user
    user.set_password("ten letters at least")
    user.save()
    client.post(reverse("sign-in"), {"username": user.email, "password": "ten letters at least"})
    session, token = (client.cookies[name] for name in ("sessionid", "csrftoken"))
    assert (session["httponly"], session["samesite"], token["samesite"]) == (True, "Lax", "Lax")


def test_the_policy_lets_nothing_run_inline_or_from_elsewhere():
    rules = dict(rule.split(" ", 1) for rule in POLICY.split("; "))
    assert rules["default-src"] == "'self'"
    assert not {"script-src", "style-src", "connect-src"} & rules.keys()
    assert "unsafe" not in POLICY
    assert "http" not in POLICY
    assert "*" not in POLICY
    for nothing in ("frame-ancestors", "base-uri", "object-src"):
        assert rules[nothing] == "'none'"


def test_a_page_may_bring_a_policy_of_its_own(rf):
    own = tell_browsers(
        lambda request: HttpResponse(headers={"Content-Security-Policy": "sandbox"})
    )
    assert own(rf.get("/")).headers["Content-Security-Policy"] == "sandbox"


def test_nothing_of_the_device_is_lent():
    lent = dict(rule.split("=") for rule in HEADERS["Permissions-Policy"].split(", "))
    assert set(lent.values()) == {"()"}
    assert {"camera", "microphone", "geolocation", "payment", "usb"} <= lent.keys()


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda p: str(p.relative_to(ROOT / "templates")))
def test_no_template_holds_what_the_policy_forbids(path):
    text = re.sub(r"{#.*?#}", "", path.read_text())
    assert not re.search(r"\son[a-z]+\s*=", text), "a handler in an attribute"
    assert not re.search(r"\sstyle\s*=", text), "a style in an attribute"
    assert not re.search(r"<style\b", text) or "mail" in path.parts, "a style sheet in the page"
    assert not re.search(r"<script\b(?![^>]*\bsrc=)", text), "a script in the page"
    assert not re.search(r"""(src|href|action)\s*=\s*["']?(https?:)?//""", text), "another host"
    assert "javascript:" not in text
