"""docs/security.md: every requirement of level 1, and no test named that is not there."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.conf import settings
from django.contrib.auth.password_validation import get_default_password_validators
from django.test import Client

from pipeline.teams.models import User

ROOT = Path(settings.BASE_DIR)
PAGE = (ROOT / "docs" / "security.md").read_text()
ROWS = re.findall(r"^\| (V\d+\.\d+\.\d+) \| (.+?) \| (.+) \|$", PAGE, re.MULTILINE)

# OWASP Application Security Verification Standard 5.0.0 (May 2025): all requirements of level 1.
LEVEL_1 = """
    1.2.1 1.2.2 1.2.3 1.2.4 1.2.5 1.3.1 1.3.2 1.5.1
    2.1.1 2.2.1 2.2.2 2.3.1
    3.2.1 3.2.2 3.3.1 3.4.1 3.4.2 3.5.1 3.5.2 3.5.3
    4.1.1 4.4.1
    5.2.1 5.2.2 5.3.1 5.3.2
    6.1.1 6.2.1 6.2.2 6.2.3 6.2.4 6.2.5 6.2.6 6.2.7 6.2.8 6.3.1 6.3.2 6.4.1 6.4.2
    7.2.1 7.2.2 7.2.3 7.2.4 7.4.1 7.4.2
    8.1.1 8.2.1 8.2.2 8.3.1
    9.1.1 9.1.2 9.1.3 9.2.1
    10.4.1 10.4.2 10.4.3 10.4.4 10.4.5
    11.3.1 11.3.2 11.4.1
    12.1.1 12.2.1 12.2.2
    13.4.1
    14.2.1 14.3.1
    15.1.1 15.2.1 15.3.1
""".split()

A_PASSWORD = "Seven Grey  Herons\u00a0Wait "


def test_each_requirement_of_level_1_has_its_row_in_order():
    assert [number for number, *_ in ROWS] == [f"V{number}" for number in LEVEL_1]
    assert len(LEVEL_1) == 70


@pytest.mark.parametrize("number", [row[0] for row in ROWS])
def test_each_test_that_a_row_names_is_there(number):
    (told,) = [row[2] for row in ROWS if row[0] == number]
    for file, _, name in re.findall(r"`([a-z_/]+\.py)(::(\w+))?`", told):
        source = (ROOT / "tests" / file).read_text()
        assert f"def {name}(" in source if name else "def test_" in source, (file, name)


def test_a_row_without_a_test_says_why():
    for number, _, told in ROWS:
        assert "`" in told or len(told) > 15, number


def test_no_script_of_ours_writes_html():
    scripts = [
        path
        for path in (ROOT / "pipeline" / "static").rglob("*.js")
        if re.search(r"innerHTML|outerHTML|insertAdjacentHTML|document\.write", path.read_text())
    ]
    assert scripts == []


def test_passwords_are_judged_by_length_and_lists_alone():
    assert {type(judge).__name__ for judge in get_default_password_validators()} == {
        "MinimumLengthValidator",
        "CommonPasswordValidator",
        "UserAttributeSimilarityValidator",
    }


@pytest.mark.django_db
def test_passwords_are_typed_masked_and_may_be_pasted(client):
    page = client.get("/sign-in/").content.decode()
    (field,) = re.findall(r'<input[^>]*name="password"[^>]*>', page)
    assert 'type="password"' in field
    assert 'autocomplete="current-password"' in field
    assert "onpaste" not in page


@pytest.fixture
def person(cast):
    user = cast.member.user
    user.set_password(A_PASSWORD)
    user.save()
    return user


def signs_in(password: str) -> Client | None:
    browser = Client()
    answer = browser.post(
        "/sign-in/", {"username": "mateus@harbour.example", "password": password}
    )
    return browser if answer.status_code == 302 else None


def test_a_password_counts_exactly_as_typed(person):
    for other in (A_PASSWORD.strip(), A_PASSWORD.lower(), A_PASSWORD[:-2]):
        assert signs_in(other) is None
    assert signs_in(A_PASSWORD)


def test_a_key_from_before_signing_out_opens_nothing(person):
    browser = signs_in(A_PASSWORD)
    key = browser.cookies["sessionid"].value
    browser.post("/sign-out/")
    thief = Client()
    thief.cookies["sessionid"] = key
    assert thief.get("/teams/").url.startswith("/sign-in/")


def test_a_closed_account_is_out_at_once(person):
    browser = signs_in(A_PASSWORD)
    assert browser.get("/teams/?all").status_code == 200
    User.objects.filter(pk=person.pk).update(is_active=False)
    assert browser.get("/teams/?all").url.startswith("/sign-in/")


def test_signing_out_clears_what_the_browser_keeps(person):
    browser = signs_in(A_PASSWORD)
    assert browser.post("/sign-out/").headers["Clear-Site-Data"] == '"cache"'
