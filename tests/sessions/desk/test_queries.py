"""How many queries the desk asks, however much was caught; each is named."""

from __future__ import annotations

import json
import uuid

import pytest

from tests.sessions.pages import at
from tests.sessions.test_queries import DOOR

PAGE = [
    "the session with lead and format",
    "the format's steps",
    "what was pressed",
    "the desk's number",
    "its themes",
    "its notes",
    "its statements",
]
NOTHING_NEW = ["the session with lead and format", "the desk's number"]
SOMETHING_NEW = [
    *NOTHING_NEW,
    "themes that changed",
    "notes that changed",
    "statements that changed",
    "what was pressed since",
]

TAKING_IN = [
    "begin",
    "the desk",
    "the desk, locked",
    "which entries were received before",
    "the format's steps",
    "receipts of the others",
    "the desk's number, written",
    "end",
]


@pytest.fixture
def full(send, steps):
    """A desk with a lot on it."""
    for n in range(8):
        theme = send("theme", text=f"theme {n}")
        for m in range(5):
            send("note", text=f"note {n} {m}", theme=theme)
        send("statement", text=f"statement {n}", step=steps[2].pk)
    send("press", press="start")


@pytest.mark.parametrize(
    ("name", "after", "queries"),
    [
        ("desk", None, PAGE),
        ("desk-changes", "57", NOTHING_NEW),
        ("desk-changes", "0", SOMETHING_NEW),
    ],
)
def test_a_look_asks_only_these(
    cast, sign_in, session, full, name, after, queries, django_assert_num_queries
):
    browser = sign_in(cast.member)
    with django_assert_num_queries(len(DOOR) + len(queries)):
        page = browser.get(at(cast.team, name, session.pk), {"after": after} if after else {})
    assert page.status_code == 200


def test_what_is_sent_together_is_taken_in_with_one_query_a_line(
    cast, sign_in, session, full, django_assert_num_queries
):
    entries = [{"kind": "note", "key": str(uuid.uuid4()), "text": f"line {n}"} for n in range(60)]
    browser = sign_in(cast.member)
    around = len(DOOR) + len(TAKING_IN) + len(SOMETHING_NEW)
    with django_assert_num_queries(len(entries) + around):
        response = browser.post(
            at(cast.team, "desk-catch", session.pk),
            json.dumps({"entries": entries, "after": "57"}),
            content_type="application/json",
        )
    assert len(response.json()["taken"]) == len(entries)
