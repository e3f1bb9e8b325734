"""Whatever is typed into any form of the program: it answers in words, or keeps it as typed.

The forms are not listed here: each is found on the pages themselves (``forms_found.py``). For each
a few fillings are made up, always the same ones; ``HURTING=50`` tries so many for each.
"""

from __future__ import annotations

import os
import re
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from html import unescape
from typing import Any
from urllib.parse import urlencode, urljoin
from xml.etree import ElementTree

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection, transaction
from django.test import Client
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from tests.access.everything import address, one_of_each
from tests.access.forms_found import Form, every_form
from tests.access.hurting import ALL_AT_ONCE, FILES, NAMES, WORDS, plausible, values
from tests.access.test_matrix import TABLE

TRIES = int(os.environ.get("HURTING", "4"))
a_few = settings(
    max_examples=TRIES,
    derandomize=True,
    database=None,
    deadline=None,
    phases=[Phase.generate],
    suppress_health_check=list(HealthCheck),
)


def encoded(sent: dict[str, list[str]]) -> bytes:
    """Return a form as a browser sends it, and halves of characters as no browser does."""
    as_bytes = {
        name: [one.encode("utf-8", "surrogatepass") for one in several]
        for name, several in sent.items()
    }
    return urlencode(as_bytes, doseq=True).encode()


@contextmanager
def written() -> Iterator[list[str]]:
    """Collect the texts that are written to the database."""
    found: list[str] = []

    def see(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        if sql.lstrip().upper().startswith(("INSERT", "UPDATE")):
            for row in params if many else [params or ()]:
                found.extend(one for one in row if isinstance(one, str))
        return execute(sql, params, many, context)

    with connection.execute_wrapper(see):
        yield found


def submit(form: Form, sent: dict[str, list[str]], file: tuple[str, bytes | None]) -> Any:
    """Send a form; the answer is read to its end."""
    files = [name for name, box in form.fields.items() if box.kind == "file"]
    if form.method == "get":
        answer = form.browser.get(f"{form.action.partition('?')[0]}?{encoded(sent).decode()}")
    elif files:
        readable = {n: [typed(one) for one in several] for n, several in sent.items()}
        name, content = file
        chosen = {} if content is None else {files[0]: SimpleUploadedFile(name, content)}
        answer = form.browser.post(form.action, readable | chosen)
    else:
        kind = "application/x-www-form-urlencoded"
        answer = form.browser.generic("POST", form.action, encoded(sent), kind)
    _ = b"".join(answer) if answer.streaming else answer.content
    return answer


def typed(text: str) -> str:
    """Return a text as it is read from a form: without half characters, with plain line ends."""
    whole = text.encode("utf-8", "surrogatepass").decode("utf-8", "replace")
    return whole.replace("\r\n", "\n")


def fault(form: Form, sent: dict[str, list[str]], answer: Any, texts: list[str]) -> str:
    """Return what is wrong with an answer; nothing where all is well."""
    if answer.status_code >= 500:
        return f"status {answer.status_code}"
    if answer.status_code >= 400 and "<h1>" not in answer.content.decode():
        return f"status {answer.status_code} without a page"
    if answer.status_code != 302 or form.method == "get" or form.goes_to in NOT_AS_TYPED:
        return ""
    kept = [text.replace("\r\n", "\n") for text in texts]
    for name, box in form.fields.items():
        for one in sent.get(name, [])[-1:] if box.kind in ("text", "textarea") else []:
            if one in WORDS and not any(typed(one).strip() in text for text in kept):
                return f"{name} is not kept as it was typed: {one[:40]!r}"
    return ""


# At the desk what no text holds (control characters) is left out: there may be no network, and
# nobody could mend it later.
NOT_AS_TYPED = {"desk-catch"}


def faults(form: Form) -> list[str]:
    """Return what goes wrong when a form is sent with made-up values."""
    found: list[str] = []
    boxes = {name: values(box) for name, box in form.fields.items() if box.kind != "file"}

    @a_few
    @given(
        st.fixed_dictionaries(boxes),
        st.tuples(st.sampled_from(NAMES), st.sampled_from([None, *FILES])),
    )
    def tried(sent: dict[str, list[str]], file: tuple[str, bytes | None]) -> None:
        cookies = form.browser.cookies.copy()
        wrong = undone(lambda: attempt(form, sent, file))
        form.browser.cookies = cookies
        if wrong:
            short = {name: [one[:60] for one in several] for name, several in sent.items()}
            found.append(f"{form.method} {form.name[:80]}: {wrong}\n  {short} {file[0][:60]!r}")

    tried()
    return found


def attempt(form: Form, sent: dict[str, list[str]], file: tuple[str, bytes | None]) -> str:
    """Send a form; return what goes wrong."""
    try:
        with written() as texts:
            answer = submit(form, sent, file)
        return fault(form, sent, answer, texts)
    except Exception:
        return traceback.format_exc(limit=-6)


def undone(work: Callable[[], str]) -> str:
    """Do ``work``, and take back what it wrote."""
    before = transaction.savepoint()
    try:
        return work()
    finally:
        transaction.savepoint_rollback(before)


@pytest.fixture
def rows(cast) -> dict[str, Any]:
    return one_of_each(cast)


@pytest.fixture
def forms(cast, rows, sign_in) -> list[Form]:
    """Every form that the team's owner finds, or anybody outside."""
    return list(every_form(cast, rows, sign_in(cast.owner), Client()))


def test_no_form_breaks(forms):
    assert len(forms) > 100
    broken = [wrong for form in forms for wrong in faults(form)]
    assert not broken, "\n".join(broken)


TYPED = ("text", "textarea")
NO_FILE = ("", None)
AS_FILE = re.compile(r'href="(\?[^"]*\bas=[^"]+)"')


def test_what_was_kept_is_shown_at_every_address(cast, rows, forms, sign_in):
    """On pages, in tables, letters, calendars and drawings alike."""
    kept = sum(keeps(form) for form in forms if form.action.startswith("/t/"))
    assert kept >= 10
    owner = sign_in(cast.owner)
    paths = [
        address(name, "harbour", rows[row] if row else None) for name, (row, *_) in TABLE.items()
    ]
    broken = []
    while paths:
        path = paths.pop()
        try:
            answer = owner.get(path)
            content = b"".join(answer) if answer.streaming else answer.content
            kind = answer.headers.get("Content-Type", "")
            if kind.startswith("text/html") and "as=" not in path:
                there = {unescape(link) for link in AS_FILE.findall(content.decode())}
                paths += [urljoin(path, link) for link in there]
            if kind.startswith("image/svg"):
                ElementTree.fromstring(content)
        except Exception:
            broken.append(f"{path}: {traceback.format_exc(limit=-6)}")
    assert not broken, "\n".join(broken)


def keeps(form: Form) -> bool:
    """Type everything at once into each box for words; tell whether that was kept."""
    boxes = {name: box for name, box in form.fields.items() if box.kind != "file"}
    words = {name: [ALL_AT_ONCE] for name, box in boxes.items() if box.kind in TYPED}
    if form.method == "get" or not words:
        return False
    before = transaction.savepoint()
    sent = {name: plausible(box) for name, box in boxes.items()} | words
    if submit(form, sent, NO_FILE).status_code == 302:
        return True
    transaction.savepoint_rollback(before)
    return False
