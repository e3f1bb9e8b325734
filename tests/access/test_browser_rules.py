"""What the browser is told on every page: load our own files only, and run nothing inline."""

import re
from pathlib import Path

import pytest
from django.http import HttpResponse
from django.urls import reverse

from pipeline.teams.headers import POLICY, content_security_policy

ROOT = Path(__file__).resolve().parents[2]
TEMPLATES = sorted((ROOT / "templates").rglob("*.html"))


def test_every_page_comes_with_the_policy(client, cast, sign_in):
    for page in (
        client.get(reverse("sign-in")),
        client.get("/nothing/here/"),
        sign_in(cast.owner).get(reverse("team", args=["harbour"])),
        sign_in(cast.stranger).get(reverse("team", args=["harbour"])),
    ):
        assert page.headers["Content-Security-Policy"] == POLICY
        assert page.headers["X-Content-Type-Options"] == "nosniff"
        assert page.headers["X-Frame-Options"] == "DENY"


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
    own = content_security_policy(
        lambda request: HttpResponse(headers={"Content-Security-Policy": "sandbox"})
    )
    assert own(rf.get("/")).headers["Content-Security-Policy"] == "sandbox"


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda p: str(p.relative_to(ROOT / "templates")))
def test_no_template_holds_what_the_policy_forbids(path):
    text = re.sub(r"{#.*?#}", "", path.read_text())
    assert not re.search(r"\son[a-z]+\s*=", text), "a handler in an attribute"
    assert not re.search(r"\sstyle\s*=", text), "a style in an attribute"
    assert not re.search(r"<style\b", text) or "mail" in path.parts, "a style sheet in the page"
    assert not re.search(r"<script\b(?![^>]*\bsrc=)", text), "a script in the page"
    assert not re.search(r"""(src|href|action)\s*=\s*["']?(https?:)?//""", text), "another host"
    assert "javascript:" not in text
