"""Fifty posts at the same moment, from two processes: nothing is lost, doubled, or overwritten."""

from __future__ import annotations

import uuid
from collections import Counter
from collections.abc import Callable

import pytest

from pipeline.leads.models import Lead
from sessions.models import Statement
from tests.access.servers import post_at_once, two_servers
from tests.conftest import NOW
from tests.factories import LeadFactory, SessionFactory, StepFactory
from tests.leads.pages import form_of, url

pytestmark = pytest.mark.django_db(transaction=True)

FIFTY = range(50)
NEW_LEAD = {"organisation": "Alder Mill", "enquired_on": "2026-02-20", "anyway": "1"}


@pytest.fixture
def post(cast, tmp_path):
    """Return a function that posts many forms at once, and gives the status of each answer."""
    with two_servers(tmp_path, cast.team) as browsers:
        yield lambda path, forms: post_at_once(browsers, path, forms)


@pytest.fixture
def opened(cast, sign_in) -> Callable[[str], dict[str, str]]:
    """Return a function that gives what the form of a page holds before anything is typed."""

    def fields(path: str) -> dict[str, str]:
        page = sign_in(cast.owner).get(path)
        return {name: values[0] for name, values in form_of(page).items() if values}

    return fields


def key() -> str:
    return str(uuid.uuid4())


def test_the_dots_that_were_acknowledged_are_the_dots_that_are_stored(cast, post):
    session = SessionFactory(lead=LeadFactory(team=cast.team))
    step = StepFactory(format=session.format)
    said = {"team": cast.team, "session": session, "step": step, "at": NOW, "text": "We are near."}
    row = Statement.objects.create(key=uuid.uuid4(), **said)
    dots = [1 + number % 7 for number in FIFTY]
    same = {"kind": "votes", "row": str(row.key), "shown": "0"}
    forms = [{**same, "key": key(), "votes": str(more)} for more in dots]

    answers = post(url("desk-catch", session.pk), forms)

    assert Counter(answers) == {302: 50}
    row.refresh_from_db()
    assert row.votes == sum(dots)


def test_of_fifty_edits_of_one_version_one_is_stored_and_all_others_are_told(cast, post, opened):
    lead = LeadFactory(team=cast.team, note="As it was.")
    at = url("lead-edit", lead.pk)
    form = opened(at)
    forms = [{**form, "note": f"Words of number {number}."} for number in FIFTY]

    answers = post(at, forms)

    assert Counter(answers) == {302: 1, 409: 49}
    version = lead.version
    lead.refresh_from_db()
    assert lead.note == forms[answers.index(302)]["note"]
    assert lead.version == version + 1


def test_one_new_lead_posted_fifty_times_is_one_and_under_fifty_keys_fifty(cast, post, opened):
    at = url("lead-new")
    form = {**opened(at), **NEW_LEAD}

    assert Counter(post(at, [form] * 50)) == {302: 50}
    assert Lead.objects.count() == 1

    assert Counter(post(at, [{**form, "submission": key()} for _ in FIFTY])) == {302: 50}
    assert Lead.objects.count() == 51
