"""A lead's page: its standing, what is due next, and its history."""

from datetime import date

import pytest
from django.urls import reverse

from pipeline.leads.merging import merge
from pipeline.leads.settle import settle
from tests.conftest import NOW, TODAY
from tests.factories import (
    ContactFactory,
    DecisionFactory,
    DeliverableFactory,
    FollowUpFactory,
    FundingFactory,
    LeadFactory,
    LogEntryFactory,
    ProposalFactory,
    SessionFactory,
    SourceFactory,
)
from tests.followups.queries import tables

pytestmark = pytest.mark.django_db


def address(lead):
    return reverse("lead", args=[lead.team.slug, lead.pk])


def test_it_tells_where_the_lead_stands_and_who_is_there(cast, sign_in):
    lead = LeadFactory(
        team=cast.team, owner=cast.owner, source=SourceFactory(team=cast.team, name="a fair")
    )
    ContactFactory(lead=lead, name="Ana Reis", role="buyer", timezone="America/Bogota")
    DecisionFactory(lead=lead, day=date(2026, 2, 3))
    settle(cast.team, [lead.pk], now=NOW)
    page = sign_in(cast.member).get(address(lead)).text
    for told in (
        "waiting for funding",
        "since Tue 3 Feb 2026 (28 days ago)",
        "Olive Brandt",
        "a fair",
        "Ana Reis",
        "buyer",
        "America/Bogota",
    ):
        assert told in page


def test_a_return_names_the_session_that_earned_it(cast, sign_in):
    lead = LeadFactory(team=cast.team)
    session = SessionFactory(lead=lead, state="held", day=date(2025, 9, 9))
    DecisionFactory(lead=lead, day=date(2025, 9, 16))
    DecisionFactory(lead=lead, kind="engaged", day=TODAY)
    page = sign_in(cast.reader).get(address(lead)).text
    link = reverse("session", args=[cast.team.slug, session.pk])
    assert f'<strong>return</strong>, earned by the <a href="{link}">session of Tue 9 Sep' in page


def test_the_next_five_stand_open_and_the_rest_is_folded(cast, sign_in):
    lead = LeadFactory(team=cast.team)
    for n in range(7):
        FollowUpFactory(lead=lead, due_on=date(2026, 4, 1 + n))
    assert "2 more after that" in sign_in(cast.member).get(address(lead)).text


def test_a_lead_that_was_merged_away_leads_to_the_one_that_was_kept(cast, sign_in):
    gone, kept, last = (LeadFactory(team=cast.team) for _ in range(3))
    merge(kept=kept, gone=gone, member=cast.member, now=NOW)
    done = merge(kept=last, gone=kept, member=cast.member, now=NOW)
    client = sign_in(cast.member)
    response = client.get(address(gone))
    assert (response.status_code, response["Location"]) == (302, address(last))
    page = client.get(address(last)).text
    assert kept.organisation in page
    assert reverse("merge-undo", args=[cast.team.slug, done.pk]) in page


def test_a_reader_finds_nothing_to_change(cast, sign_in):
    lead = LeadFactory(team=cast.team)
    ContactFactory(lead=lead)
    LogEntryFactory(lead=lead)
    page = sign_in(cast.reader).get(address(lead)).text
    for name in ("session-book", "decision-new", "log-new", "lead-edit", "follow-up-new"):
        assert reverse(name, args=[cast.team.slug, lead.pk]) not in page
    assert "They asked for dates." in page


def test_its_queries_are_these_however_long_the_history(cast, sign_in):
    lead = LeadFactory(team=cast.team, owner=cast.owner)
    client = sign_in(cast.member)

    def fill(n):
        ContactFactory(lead=lead)
        LogEntryFactory(lead=lead, recorded_by=cast.member)
        session = SessionFactory(lead=lead, state="held", day=date(2026, 1, 1 + n))
        DeliverableFactory(lead=lead, session=session, owner=cast.owner)
        ProposalFactory(lead=lead, sent_on=date(2026, 1, 1 + n))
        DecisionFactory(lead=lead, day=date(2026, 1, 1 + n))
        FundingFactory(lead=lead, arrived_on=date(2026, 1, 1 + n))
        FollowUpFactory(lead=lead, owner=cast.owner)
        merge(kept=lead, gone=LeadFactory(team=cast.team), member=cast.member, now=NOW)

    expected = [
        "django_session",
        "teams_user",
        "teams_member",
        "leads_lead",
        "leads_logentry",
        "discovery_discoverysession",
        "discovery_crewplace",
        "discovery_deliverable",
        "leads_proposal",
        "leads_decision",
        "leads_funding",
        "followups_followup",
        "followups_leadletter",
        "followups_consent",
        "leads_contact",
        "mail_stoppedaddress",
        "leads_merge",
    ]
    fill(0)
    assert tables(lambda: client.get(address(lead))) == expected
    for n in range(1, 5):
        fill(n)
    assert tables(lambda: client.get(address(lead))) == expected
