"""Two at once: nothing doubles, and what a member did is not undone by the plan."""

import pytest

from pipeline.followups import actions
from pipeline.followups.models import FollowUp, PlanStep
from pipeline.followups.plans import ensure_plan
from pipeline.leads.settle import settle
from tests.conftest import NOW
from tests.factories import DecisionFactory, FollowUpFactory, LeadFactory
from tests.followups.threads import at_once

pytestmark = pytest.mark.django_db(transaction=True)


def test_many_who_settle_one_lead_make_each_follow_up_once(cast):
    ensure_plan(cast.team)
    lead = LeadFactory(team=cast.team)
    DecisionFactory(lead=lead)
    assert at_once(*[lambda: settle(cast.team, [lead.pk], now=NOW)] * 4) == []
    keys = list(FollowUp.objects.values_list("key", flat=True))
    assert len(keys) == len(set(keys)) == 8


def test_of_many_who_click_done_one_did_it(cast):
    row = FollowUpFactory(lead=LeadFactory(team=cast.team))
    did = []

    def click():
        did.append(actions.mark_done(follow_up=row, member=cast.member, now=NOW)[1])

    assert at_once(*[click] * 4) == []
    assert sorted(did) == [False, False, False, True]


def test_one_marked_done_while_its_lead_engages_is_done_or_ended_and_never_half(cast):
    for _ in range(5):
        lead = LeadFactory(team=cast.team)
        row = FollowUpFactory(lead=lead)
        DecisionFactory(lead=lead, kind="engaged")
        did = []

        def click(row=row, did=did):
            did.append(actions.mark_done(follow_up=row, member=cast.member, now=NOW)[1])

        assert at_once(click, lambda lead=lead: settle(cast.team, [lead.pk], now=NOW)) == []
        row.refresh_from_db()
        if did == [True]:
            assert (row.state, row.closed_by, row.reason) == ("done", cast.member, "")
        else:
            assert (row.state, row.closed_by) == ("ended", None)


def test_many_who_make_the_plan_make_it_once(cast):
    assert at_once(*[lambda: ensure_plan(cast.team)] * 4) == []
    assert PlanStep.objects.for_team(cast.team).count() == 7
