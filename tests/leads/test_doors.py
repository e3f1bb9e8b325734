"""Every page of leads: a stranger and another team's owner get 404, a reader who writes 403."""

import pytest
from django.test import Client
from django.urls import reverse

from pipeline.history.models import Change
from pipeline.leads.merging import merge
from pipeline.leads.models import Merge
from pipeline.leads.urls import urlpatterns
from tests.conftest import NOW
from tests.factories import (
    ContactFactory,
    DecisionFactory,
    FundingFactory,
    LeadFactory,
    LogEntryFactory,
    ProposalFactory,
)

LISTS = ["leads", "removed"]
NAMES = [pattern.name for pattern in urlpatterns]
KINDS = {
    "contact": ContactFactory,
    "log": LogEntryFactory,
    "decision": DecisionFactory,
    "proposal": ProposalFactory,
    "funding": FundingFactory,
}


def of_a_row(name: str) -> bool:
    return name not in (*LISTS, "lead-new", "lead-new-full")


def row_for(name: str, team, member) -> int:
    """Return the key of a row of ``team`` that this page is about."""
    lead = LeadFactory(team=team)
    kind, _, does = name.partition("-")
    if name == "merge-undo":
        gone = LeadFactory(team=team)
        return merge(kept=lead, gone=gone, member=member, now=NOW).pk
    if name == "put-back":
        FundingFactory(lead=lead).delete()
        return Change.objects.get(table="leads_funding").pk
    return KINDS[kind](lead=lead).pk if kind in KINDS and does != "new" else lead.pk


def address(name: str, slug: str, pk: int) -> str:
    return reverse(name, args=[slug, pk] if of_a_row(name) else [slug])


@pytest.mark.parametrize("method", ["get", "post"])
@pytest.mark.parametrize("name", NAMES)
def test_a_stranger_and_another_teams_owner_find_nothing(cast, sign_in, name, method):
    at = address(name, "harbour", row_for(name, cast.team, cast.member))
    for who in (cast.stranger, cast.other_owner):
        assert getattr(sign_in(who), method)(at).status_code == 404


@pytest.mark.parametrize("method", ["get", "post"])
@pytest.mark.parametrize("name", [name for name in NAMES if of_a_row(name)])
def test_another_teams_row_is_not_there_under_ones_own_team(cast, sign_in, name, method):
    at = address(name, "quarry", row_for(name, cast.team, cast.member))
    # Of a button it is said first that it is one.
    expected = 405 if (name, method) == ("put-back", "get") else 404
    assert getattr(sign_in(cast.other_owner), method)(at).status_code == expected


@pytest.mark.parametrize("name", [name for name in NAMES if name not in LISTS])
def test_a_reader_who_writes_is_refused(cast, sign_in, name):
    at = address(name, "harbour", row_for(name, cast.team, cast.member))
    reader = sign_in(cast.reader)
    assert reader.get(at).status_code == 403
    assert reader.post(at).status_code == 403
    assert not Merge.objects.exclude(undone_at=None).exists()


def test_a_reader_reads_the_list(cast, sign_in):
    page = sign_in(cast.reader).get(address("leads", "harbour", 0))
    assert page.status_code == 200
    assert "lead-new" not in page.content.decode()


@pytest.mark.parametrize("name", NAMES)
def test_who_is_not_signed_in_is_led_to_the_sign_in(cast, name):
    at = address(name, "harbour", row_for(name, cast.team, cast.member))
    page = Client().get(at)
    assert page.status_code == 302
    assert page.url.startswith("/sign-in/")


@pytest.mark.parametrize("name", [name for name in NAMES if of_a_row(name)])
def test_a_key_beyond_what_a_database_holds_is_not_there(cast, sign_in, name):
    ask = sign_in(cast.member)
    page = (ask.post if name == "put-back" else ask.get)(address(name, "harbour", 10**30))
    assert page.status_code == 404


@pytest.mark.parametrize("name", NAMES)
def test_other_methods_are_refused(cast, sign_in, name):
    at = address(name, "harbour", row_for(name, cast.team, cast.member))
    assert sign_in(cast.member).delete(at).status_code == 405


@pytest.mark.parametrize("name", NAMES)
def test_an_empty_post_never_breaks(cast, sign_in, name):
    at = address(name, "harbour", row_for(name, cast.team, cast.member))
    status = sign_in(cast.member).post(at).status_code
    # lists have no POST; parting two leads and putting back ask for nothing but the button
    answers = dict.fromkeys(LISTS, 405) | dict.fromkeys(["merge-undo", "put-back"], 302)
    assert status == answers.get(name, 422)
