"""The command that proves the stored standings, or mends them."""

import io

import pytest
from django.core.management import CommandError, call_command

from pipeline.leads.models import Lead
from tests.factories import DecisionFactory, LeadFactory


def run(*words: str) -> str:
    out = io.StringIO()
    call_command("standings", *words, stdout=out)
    return out.getvalue()


@pytest.fixture
def wrong(cast, lead):
    """One of our leads, and one of theirs, with a fact behind the services' back."""
    DecisionFactory(lead=lead, kind="engaged")
    theirs = LeadFactory(team=cast.other_team, organisation="Granite Hall")
    DecisionFactory(lead=theirs, kind="declined")
    Lead.objects.update(standing_since="2026-01-12")
    return lead


def test_copies_that_agree_are_counted(cast, lead, booked):
    LeadFactory(team=cast.other_team, enquired_on=None)
    assert run() == "2 stored standings agree with the facts.\n"
    assert run("--check", "--team", "harbour") == "1 stored standings agree with the facts.\n"


def test_copies_that_differ_are_listed_and_end_with_1(wrong):
    out = io.StringIO()
    with pytest.raises(CommandError, match="2 of 2") as failed:
        call_command("standings", "--check", stdout=out)
    assert failed.value.returncode == 1
    first, second = out.getvalue().splitlines()
    assert "Fernwick Library: standing is enquiry, should be engaged" in first
    assert "standing_since is 2026-01-12, should be 2026-03-03" in first
    assert "Granite Hall: standing is enquiry, should be declined" in second
    wrong.refresh_from_db()
    assert wrong.standing == "enquiry"


def test_refreshing_mends_one_team_and_then_it_agrees(cast, wrong):
    assert "1 mended" in run("--refresh", "--team", "harbour")
    wrong.refresh_from_db()
    assert wrong.standing == "engaged"
    assert "agree" in run("--team", "harbour")
    with pytest.raises(CommandError):
        run("--team", "quarry")


def test_an_unknown_team_is_told(cast):
    with pytest.raises(CommandError, match="no team nowhere"):
        run("--team", "nowhere")
