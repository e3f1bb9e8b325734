"""Follow-ups are kept in line with the facts of their lead."""

import re
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from pipeline.followups.models import FollowUp, PlanEdition, PlanStep
from pipeline.followups.plans import ensure_plan
from pipeline.followups.settling import settle
from pipeline.leads.merging import merge, unmerge
from tests.conftest import NOW, TODAY
from tests.factories import (
    DecisionFactory,
    DeliverableFactory,
    FollowUpFactory,
    FundingFactory,
    LeadFactory,
    PlanStepFactory,
    ProposalFactory,
    SessionFactory,
)

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(days=1)


@pytest.fixture
def team(cast):
    ensure_plan(cast.team)
    return cast.team


@pytest.fixture
def lead(team):
    return LeadFactory(team=team)


def team_plan(team):
    return PlanEdition.objects.newest(team)


def told(lead):
    """Return the lead's follow-ups as (day, state, reason)."""
    return [(f.due_on.isoformat(), f.state, f.reason) for f in FollowUp.objects.filter(lead=lead)]


def test_the_default_plan_is_made_once_and_a_teams_own_is_left_alone(team, cast):
    count = PlanStep.objects.for_team(team).count()
    ensure_plan(team)
    assert PlanStep.objects.for_team(team).count() == count == 7

    PlanStepFactory(edition__team=cast.other_team, trigger="engaged")
    ensure_plan(cast.other_team)
    assert PlanStep.objects.for_team(cast.other_team).count() == 1


@pytest.mark.parametrize(("by_month", "due"), [(True, "2026-07-07"), (False, "2026-06-08")])
def test_what_is_asked_after_expected_money_counts_from_its_day_or_the_months_end(
    lead, team, by_month, due
):
    PlanStepFactory(
        edition=team_plan(team),
        trigger="no budget yet",
        position=3,
        count=1,
        unit="weeks after expected",
    )
    DecisionFactory(
        lead=lead,
        kind="no budget yet",
        day=TODAY,
        funding_expected_on=date(2026, 6, 1),
        expected_by_month=by_month,
    )
    settle(team, [lead.pk], NOW)
    assert due in [day for day, _, _ in told(lead)]


def test_each_fact_makes_what_the_default_plan_says(lead, team):
    DeliverableFactory(lead=lead, title="Takeaway", sent_on=date(2026, 3, 2))
    SessionFactory(lead=lead, state="missed", day=date(2026, 2, 27))
    ProposalFactory(lead=lead, sent_on=date(2026, 3, 3))
    settle(team, [lead.pk], NOW)
    assert [(f.due_on.isoformat(), f.because) for f in FollowUp.objects.filter(lead=lead)] == [
        ("2026-03-02", "session of 27 Feb 2026 missed"),
        ("2026-03-04", "Takeaway sent on 2 Mar 2026"),
        ("2026-03-17", "proposal sent on 3 Mar 2026"),
    ]


def test_no_budget_yet_is_asked_after_each_quarter_and_before_the_money(lead, team):
    DecisionFactory(lead=lead, day=date(2026, 3, 3), funding_expected_on=date(2026, 10, 1))
    settle(team, [lead.pk], NOW)
    due = [day for day, _, _ in told(lead)]
    assert due[:3] == ["2026-06-03", "2026-09-03", "2026-09-17"]
    assert len(due) == 9


def test_settling_twice_changes_nothing(lead, team):
    DecisionFactory(lead=lead)
    settle(team, [lead.pk], NOW)
    before = list(FollowUp.objects.values_list())
    settle(team, [lead.pk], LATER)
    assert list(FollowUp.objects.values_list()) == before


def test_a_follow_up_is_the_owners_of_the_lead_or_else_of_who_recorded_the_fact(cast, team):
    owned = LeadFactory(team=team, owner=cast.owner)
    unowned = LeadFactory(team=team)
    for lead in (owned, unowned):
        ProposalFactory(lead=lead, recorded_by=cast.member)
    settle(team, [owned.pk, unowned.pk], NOW)
    assert FollowUp.objects.get(lead=owned).owner == cast.owner
    assert FollowUp.objects.get(lead=unowned).owner == cast.member


def test_an_engaged_leads_open_follow_ups_end_by_themselves_and_say_why(lead, team):
    ProposalFactory(lead=lead)
    by_hand = FollowUpFactory(lead=lead, created_at=NOW)
    settle(team, [lead.pk], NOW)
    DecisionFactory(lead=lead, kind="engaged", day=TODAY, recorded_at=LATER)
    settle(team, [lead.pk], LATER)
    assert {(state, reason) for _, state, reason in told(lead)} == {
        ("ended", "engaged on 3 Mar 2026")
    }
    by_hand.refresh_from_db()
    assert by_hand.closed_on == date(2026, 3, 4)
    assert by_hand.closed_by is None


def test_what_is_added_by_hand_after_the_end_stays_open(lead, team):
    DecisionFactory(lead=lead, kind="declined", recorded_at=NOW)
    FollowUpFactory(lead=lead, created_at=LATER)
    settle(team, [lead.pk], LATER)
    assert told(lead) == [("2026-03-03", "open", "")]


def test_what_ended_opens_again_when_the_decision_is_taken_back(lead, team):
    ProposalFactory(lead=lead)
    FollowUpFactory(lead=lead)
    settle(team, [lead.pk], NOW)
    before = told(lead)
    engaged = DecisionFactory(lead=lead, kind="engaged")
    settle(team, [lead.pk], NOW)
    assert {state for _, state, _ in told(lead)} == {"ended"}
    engaged.delete()
    settle(team, [lead.pk], NOW)
    assert told(lead) == before


def test_done_and_dropped_ones_are_never_touched(lead, team, cast):
    ProposalFactory(lead=lead)
    DeliverableFactory(lead=lead, sent_on=TODAY)
    settle(team, [lead.pk], NOW)
    done, dropped = FollowUp.objects.filter(lead=lead)
    FollowUp.objects.filter(pk=done.pk).update(
        state="done", closed_on=TODAY, closed_by=cast.member
    )
    FollowUp.objects.filter(pk=dropped.pk).update(
        state="dropped", closed_on=TODAY, closed_by=cast.member, reason="They asked for quiet."
    )
    before = list(FollowUp.objects.values_list())
    DecisionFactory(lead=lead, kind="engaged")
    lead.proposals.all().delete()
    settle(team, [lead.pk], LATER)
    assert list(FollowUp.objects.values_list()) == before


def test_a_removed_fact_ends_what_followed_from_it(lead, team):
    ProposalFactory(lead=lead, sent_on=date(2026, 3, 3))
    settle(team, [lead.pk], NOW)
    lead.proposals.all().delete()
    settle(team, [lead.pk], NOW)
    assert told(lead) == [
        ("2026-03-17", "ended", "no longer applies: proposal sent on 3 Mar 2026")
    ]


def test_a_corrected_day_takes_open_follow_ups_along(lead, team):
    ProposalFactory(lead=lead, sent_on=date(2026, 3, 3))
    settle(team, [lead.pk], NOW)
    (row,) = FollowUp.objects.all()
    lead.proposals.update(sent_on=date(2026, 3, 2))
    settle(team, [lead.pk], NOW)
    (moved,) = FollowUp.objects.all()
    assert moved.pk == row.pk
    assert (moved.due_on, moved.because) == (date(2026, 3, 16), "proposal sent on 2 Mar 2026")


def test_what_was_done_is_not_asked_again_when_the_day_of_its_fact_is_corrected(lead, team):
    ProposalFactory(lead=lead, sent_on=date(2026, 3, 3))
    settle(team, [lead.pk], NOW)
    FollowUp.objects.update(state="done", closed_on=date(2026, 3, 17))
    lead.proposals.update(sent_on=date(2026, 3, 2))
    settle(team, [lead.pk], NOW)
    assert told(lead) == [("2026-03-17", "done", "")]


def test_a_newly_expected_month_moves_the_reminder_before_it(lead, team):
    decision = DecisionFactory(lead=lead, funding_expected_on=date(2026, 10, 1))
    settle(team, [lead.pk], NOW)
    decision.funding_expected_on = date(2026, 12, 1)
    decision.save()
    settle(team, [lead.pk], NOW)
    row = FollowUp.objects.get(lead=lead, key__contains="|2|1")
    assert (row.due_on, row.planned_on) == (date(2026, 11, 17), date(2026, 11, 17))


def test_one_that_was_put_off_by_hand_stays_where_it_was_put(lead, team):
    decision = DecisionFactory(lead=lead, funding_expected_on=date(2026, 10, 1))
    settle(team, [lead.pk], NOW)
    rows = FollowUp.objects.filter(lead=lead, key__contains="|2|1")
    rows.update(due_on=date(2026, 9, 28))
    decision.funding_expected_on = date(2026, 12, 1)
    decision.save()
    settle(team, [lead.pk], NOW)
    row = rows.get()
    assert (row.due_on, row.planned_on) == (date(2026, 9, 28), date(2026, 11, 17))


def test_arrived_money_ends_the_waiting_and_asks_for_a_call(lead, team):
    DecisionFactory(lead=lead, day=date(2026, 1, 5))
    settle(team, [lead.pk], NOW)
    FundingFactory(lead=lead, arrived_on=date(2026, 3, 3))
    settle(team, [lead.pk], NOW)
    open_ones = FollowUp.objects.filter(lead=lead).open()
    assert [(f.due_on, f.because) for f in open_ones] == [
        (date(2026, 3, 4), "funding arrived on 3 Mar 2026")
    ]
    ended = FollowUp.objects.filter(lead=lead, state="ended")
    assert {f.reason for f in ended} == {"funding arrived on 3 Mar 2026"}


def test_the_first_reason_stays_with_what_ended(lead, team):
    DecisionFactory(lead=lead, day=date(2026, 1, 5))
    settle(team, [lead.pk], NOW)
    FundingFactory(lead=lead, arrived_on=date(2026, 2, 2))
    settle(team, [lead.pk], NOW)
    DecisionFactory(lead=lead, kind="engaged", day=TODAY)
    settle(team, [lead.pk], LATER)
    waits = FollowUp.objects.filter(lead=lead, because__startswith="no budget yet")
    assert {f.reason for f in waits} == {"funding arrived on 2 Feb 2026"}


def test_an_import_calls_up_nothing_that_lies_behind(lead, team):
    DecisionFactory(lead=lead, day=date(2024, 1, 10), plan_from=date(2026, 1, 5))
    settle(team, [lead.pk], NOW)
    assert [day for day, _, _ in told(lead)] == ["2026-01-12"]


def test_a_merge_takes_follow_ups_along_and_asks_nothing_twice(lead, team, cast):
    gone = LeadFactory(team=team)
    ProposalFactory(lead=gone)
    by_hand = FollowUpFactory(lead=gone)
    settle(team, [gone.pk], NOW)
    FollowUp.objects.exclude(pk=by_hand.pk).update(state="done", closed_on=TODAY)
    done = merge(kept=lead, gone=gone, member=cast.member, now=NOW)
    assert sorted(state for _, state, _ in told(lead)) == ["done", "open"]
    assert told(gone) == []
    unmerge(merge=done, now=NOW)
    assert told(lead) == []
    assert sorted(state for _, state, _ in told(gone)) == ["done", "open"]


def test_the_same_fact_of_two_merged_leads_is_followed_once(lead, team, cast):
    gone = LeadFactory(team=team)
    for one in (lead, gone):
        DecisionFactory(lead=one, kind="gone quiet")
    settle(team, [lead.pk, gone.pk], NOW)
    done = merge(kept=lead, gone=gone, member=cast.member, now=NOW)
    assert [state for _, state, _ in told(lead)] == ["open"]
    unmerge(merge=done, now=NOW)
    assert [state for _, state, _ in told(gone)] == ["open"]


def test_another_teams_leads_are_left_alone(cast, team):
    foreign = LeadFactory(team=cast.other_team)
    ProposalFactory(lead=foreign)
    settle(team, [foreign.pk], NOW)
    assert not FollowUp.objects.exists()


def test_any_number_of_leads_takes_the_same_queries(team):
    def leads(count):
        made = [LeadFactory(team=team) for _ in range(count)]
        for lead in made:
            DecisionFactory(lead=lead)
            SessionFactory(lead=lead, state="missed")
        return [lead.pk for lead in made]

    def queries(ids):
        with CaptureQueriesContext(connection) as caught:
            settle(team, ids, NOW)
        return [query["sql"] for query in caught if "SAVEPOINT" not in query["sql"]]

    def told_tables(sql):
        return [re.search(r'(?:FROM|INTO|UPDATE) "(\w+)"', query)[1] for query in sql]

    reads = [
        "leads_lead",
        "discovery_deliverable",
        "discovery_discoverysession",
        "leads_proposal",
        "leads_decision",
        "leads_funding",
        "followups_followup",
        "followups_planedition",
        "followups_planstep",
    ]
    one, many = leads(1), leads(6)
    made = [*reads, "followups_followup"]
    assert told_tables(queries(one)) == told_tables(queries(many)) == made
    assert told_tables(queries(one)) == told_tables(queries(many)) == reads

    # SQLite takes 999 values a statement, so a change of more rows may need more statements.
    FollowUp.objects.filter(because__startswith="session").update(
        planned_on=date(2026, 1, 1), due_on=date(2026, 1, 1)
    )
    assert told_tables(queries(one)) == told_tables(queries(many)) == made
