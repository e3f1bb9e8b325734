"""Two at once: nothing doubles, and what a member did is not undone by the plan."""

from datetime import timedelta

import pytest

from pipeline.followups import actions, editing, moving
from pipeline.followups.models import FollowUp, PlanEdition, PlanStep
from pipeline.followups.plans import ensure_plan
from pipeline.leads.settle import settle
from pipeline.teams.models import Stale
from tests.conftest import NOW
from tests.factories import DecisionFactory, FollowUpFactory, LeadFactory, ProposalFactory
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


def step_of(cast, **typed):
    step = PlanStep.objects.current(cast.team).get(trigger="proposal sent", position=1)
    for name, value in typed.items():
        setattr(step, name, value)
    return step


def change(cast, step):
    editing.change_step(step=step, member=cast.member, now=NOW, expected_version=1)


def test_of_many_who_change_one_step_one_does_and_the_others_are_told(cast):
    ensure_plan(cast.team)
    steps = [step_of(cast, count=count) for count in (1, 2, 3, 4)]
    wrong = at_once(*[lambda step=step: change(cast, step) for step in steps])
    assert [type(error) for error in wrong] == [Stale] * 3
    assert [edition.number for edition in PlanEdition.objects.for_team(cast.team)] == [1, 2]
    assert step_of(cast).count in (1, 2, 3, 4)


def test_of_many_who_add_a_step_each_does_and_no_number_is_given_twice(cast):
    ensure_plan(cast.team)

    def add():
        step = PlanStep(trigger="proposal sent", action="Ring them", count=1, unit="weeks")
        editing.add_step(step=step, team=cast.team, member=cast.member, now=NOW)

    assert at_once(*[add] * 4) == []
    rows = PlanStep.objects.current(cast.team).filter(trigger="proposal sent")
    assert sorted(rows.values_list("position", flat=True)) == [1, 2, 3, 4, 5]


def test_a_lead_that_is_settled_while_the_plan_moves_goes_by_the_new_plan(cast):
    ensure_plan(cast.team)
    leads = [LeadFactory(team=cast.team) for _ in range(5)]
    for lead in leads:
        ProposalFactory(lead=lead, recorded_at=NOW - timedelta(days=1))
    ids = [lead.pk for lead in leads]
    settle(cast.team, ids, now=NOW)
    for count in (2, 3, 4):
        step = step_of(cast, count=count)
        editing.change_step(step=step, member=cast.member, now=NOW, expected_version=step.version)
        number = PlanEdition.objects.newest(cast.team).number
        moves = [lambda n=number: moving.move(team=cast.team, number=n, now=NOW)] * 2
        settles = [lambda: settle(cast.team, ids, now=NOW)] * 2
        assert at_once(*moves, *settles) == []
        due = cast.team.calendar().add(leads[0].proposals.get().sent_on, count)
        rows = FollowUp.objects.for_team(cast.team).open()
        assert {row.planned_on for row in rows} == {max(due, cast.team.today(NOW))}
        assert len(rows) == 5
