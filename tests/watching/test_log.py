"""The log: a line of JSON each, tied to its request, in which nobody is named."""

from __future__ import annotations

import io
import json
import logging
from urllib.parse import quote

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse

from pipeline.accounts.links import sign_in_link
from pipeline.followups import tasks
from pipeline.leads.models import Contact, Lead
from pipeline.watching.ids import current_id
from pipeline.watching.logs import JsonLines
from pipeline.watching.telling import told
from tests.access.everything import address, one_of_each
from tests.access.test_matrix import TABLE
from tests.factories import LeadFactory
from tests.mail.letters import letter_to


@pytest.fixture
def log(settings):
    """Catch all that is logged, as the lines that a server would write; its levels hold."""
    stream = io.StringIO()
    handler = logging.StreamHandler(stream)
    handler.setFormatter(JsonLines())
    levels = {name: one["level"] for name, one in settings.QUIET_LOGGERS["json"].items()}
    levels |= {"pipeline.requests": "INFO", "pipeline.tasks": "INFO"}
    before = {name: logging.getLogger(name).level for name in levels}
    logging.getLogger().addHandler(handler)
    for name, level in levels.items():
        logging.getLogger(name).setLevel(level)
    yield lambda: stream.getvalue()
    logging.getLogger().removeHandler(handler)
    for name, level in before.items():
        logging.getLogger(name).setLevel(level)


def lines(text: str) -> list[dict]:
    return [json.loads(line) for line in text.splitlines()]


@pytest.mark.django_db
def test_a_request_is_told_by_its_routes_name(cast, sign_in, log):
    lead = LeadFactory(team=cast.team)
    path = reverse("lead", args=["harbour", lead.pk])
    response = sign_in(cast.member).get(path, {"q": "mateus@harbour.example"})
    (line,) = lines(log())
    assert line.pop("ms") >= 0
    assert line.pop("time").endswith("+00:00")
    assert line.pop("message").startswith("GET lead: 200 in ")
    assert line == {
        "level": "info",
        "logger": "pipeline.requests",
        "request": response["X-Request-ID"],
        "method": "GET",
        "route": "lead",
        "status": 200,
    }


@pytest.mark.parametrize("path", ["/healthz", "/static/app.css"])
def test_what_machines_ask_again_and_again_is_not_told(client, log, path):
    response = client.get(path)
    assert response.status_code == 200
    # a file is closed once it is read
    assert b"".join(response)
    assert log() == ""


@pytest.mark.django_db
def test_what_leads_nowhere_is_told_without_its_path(client, log):
    client.get("/stop/mateus@harbour.example/and/more")
    (line,) = lines(log())
    assert (line["route"], line["status"]) == ("-", 404)
    assert "mateus" not in log()


@pytest.mark.parametrize("given", ["3f0c1a52-77aa", "a" * 64])
def test_a_proxys_token_is_taken_over(client, log, given):
    response = client.get("/metrics", headers={"X-Request-ID": given})
    assert response["X-Request-ID"] == given
    assert lines(log())[-1]["request"] == given
    assert current_id() == ""


@pytest.mark.parametrize(
    "given", ["", "short", "a" * 65, "olive@harbour.example", "a b c d e f g"]
)
def test_what_is_no_plain_token_is_not(client, given):
    response = client.get("/healthz", headers={"X-Request-ID": given})
    assert response["X-Request-ID"] != given
    assert len(response["X-Request-ID"]) == 32


def test_two_requests_have_two_tokens(client):
    first, second = (client.get("/healthz")["X-Request-ID"] for _ in range(2))
    assert first != second


@pytest.mark.django_db
def test_a_task_is_told_with_a_token_of_its_own(log):
    tasks.sweep()
    (line,) = lines(log())
    assert (line["task"], line["status"], line["logger"]) == ("sweep", "done", "pipeline.tasks")
    assert len(line["request"]) == 32


def test_a_task_that_fails_is_told_and_its_error_goes_on(log):
    @told("drain")
    def broken():
        raise RuntimeError("of olive@harbour.example")

    with pytest.raises(RuntimeError):
        broken()
    (line,) = lines(log())
    assert (line["task"], line["status"]) == ("drain", "failed")


def test_of_an_error_stands_there_which_and_where_but_not_what_it_said(log):
    try:
        raise ValueError("(email)=(olive@harbour.example) already exists")
    except ValueError:
        logging.getLogger("pipeline.leads").exception("lead 4 was not stored")
    (line,) = lines(log())
    assert (line["message"], line["error"]) == ("lead 4 was not stored", "ValueError")
    assert line["at"][-1].startswith(__file__)
    assert "olive" not in log()


def test_what_fills_the_words_of_another_programs_log_is_left_out(log):
    logging.getLogger("celery.worker").error("cannot reach %s", "redis://:secret@broker")
    (line,) = lines(log())
    assert line["message"] == "cannot reach %s"


def test_a_line_break_in_a_message_makes_no_second_line(log):
    logging.getLogger("pipeline.leads").warning("one\ntwo")
    assert log().count("\n") == 1


NAMES = (
    "Olive Brandt",
    "Mateus Coelho",
    "Wendeline Oduya",
    "Alderwick Dairy",
    "harbour.example",
    "wendeline@alderwick.example",
    quote("wendeline@alderwick.example"),
)


@pytest.mark.django_db
def test_a_day_of_requests_and_letters_names_nobody(cast, sign_in, log, monkeypatch):
    """Every page, read and posted to, by everybody; bad paths; an error; a sweep."""
    rows = one_of_each(cast)
    Lead.objects.filter(pk=rows["lead"]).update(organisation="Alderwick Dairy")
    Contact.objects.filter(pk=rows["contact"]).update(
        name="Wendeline Oduya", email="wendeline@alderwick.example"
    )
    typed = {"organisation": "Alderwick Dairy", "email": "wendeline@alderwick.example"}
    browsers = [Client(), sign_in(cast.owner), sign_in(cast.member)]
    for name, (row, *_) in TABLE.items():
        path = address(name, "harbour", rows[row] if row else None)
        for browser in browsers:
            before = transaction.savepoint()
            for response in (browser.get(path, typed), browser.post(path, typed)):
                _ = b"".join(response) if response.streaming else response.content
            transaction.savepoint_rollback(before)
    link = sign_in_link(cast.reader.user)
    browsers[0].get(link.partition("://")[2].partition("/")[2])
    browsers[0].post(reverse("sign-in"), {"username": "olive@harbour.example", "password": "x"})
    browsers[0].get("/nowhere/wendeline@alderwick.example/")
    browsers[1].get("/t/harbour/leads/", {"q": "wendeline@alderwick.example"})

    def broken(*_, **__):
        raise RuntimeError("Key (email)=(wendeline@alderwick.example) already exists")

    letter_to(cast.member, subject="For Olive Brandt")
    with monkeypatch.context() as patched:
        patched.setattr("pipeline.mail.carriers.Kept.carry", broken)
        tasks.drain()
    with monkeypatch.context() as patched:
        patched.setattr("pipeline.leads.views.listing.render", broken, raising=False)
        patched.setattr("pipeline.teams.tenancy.Member.objects.at_door", broken)
        browsers[1].raise_request_exception = False
        assert browsers[1].get("/t/harbour/leads/?q=Wendeline+Oduya").status_code == 500

    assert len(lines(log())) > 3 * len(TABLE)
    for name in NAMES:
        assert name not in log()
    errors = [line for line in lines(log()) if line["level"] == "error"]
    assert [line["error"] for line in errors] == ["RuntimeError"]
    assert errors[0]["message"] == "answered 500"
