"""What a changed plan means for what is open: shown first, and done only when told."""

from datetime import date, timedelta

import pytest

from pipeline.clock import moment
from pipeline.followups import editing, moving
from pipeline.followups.models import FollowUp, PlanStep
from pipeline.followups.plans import ensure_plan, in_force, waits
from pipeline.leads.settle import settle
from pipeline.teams.refused import Refused
from tests.conftest import NOW, TODAY
from tests.factories import DecisionFactory, FollowUpFactory, LeadFactory, ProposalFactory
from tests.followups.queries import tables

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(hours=1)


@pytest.fixture
def team(cast):
    ensure_plan(cast.team)
    return cast.team


@pytest.fixture
def lead(team):
    lead = LeadFactory(team=team)
    ProposalFactory(lead=lead, sent_on=TODAY)
    settle(team, [lead.pk], now=NOW)
    return lead


def step_of(team, trigger="proposal sent", position=1):
    return PlanStep.objects.current(team).get(trigger=trigger, position=position)


@pytest.fixture
def edit(cast, team):
    """Return what changes a step of the plan, adds one, or removes one."""

    def edited(trigger="proposal sent", position=1, *, now=LATER, remove=False, **typed):
        if position == 0:
            step = PlanStep(trigger=trigger, **typed)
            editing.add_step(step=step, team=team, member=cast.member, now=now)
            return
        step = step_of(team, trigger, position)
        rest = {"step": step, "member": cast.member, "now": now, "expected_version": step.version}
        if remove:
            editing.remove_step(**rest)
            return
        for name, value in typed.items():
            setattr(step, name, value)
        editing.change_step(**rest)

    return edited


def move(team, now=LATER):
    with moment.stopped(now):
        return moving.move(team=team, number=in_force(team)[0].number, now=now)


def told(changes):
    def kind(found):
        return [
            (c.was and c.was.isoformat(), c.becomes and c.becomes.isoformat(), c.row.action)
            for c in found
        ]

    return kind(changes.moved), kind(changes.added), kind(changes.ended)


def stored(lead):
    rows = FollowUp.objects.filter(lead=lead)
    return [(f.due_on.isoformat(), f.state, f.reason) for f in rows]


ASK = "Ask where the proposal stands"


def test_what_is_open_moves_only_when_told_and_as_it_was_shown(team, lead, edit):
    edit(count=5)
    settle(team, [lead.pk], now=LATER)
    assert stored(lead) == [("2026-03-17", "open", "")]
    shown = told(moving.would_change(team, LATER))
    assert shown == ([("2026-03-17", "2026-03-10", ASK)], [], [])
    assert told(move(team)) == shown
    assert stored(lead) == [("2026-03-10", "open", "")]
    assert not moving.would_change(team, LATER)


def test_a_new_step_adds_and_a_removed_one_ends_and_says_why(team, lead, edit):
    edit(remove=True)
    edit(position=0, action="Ring them", count=1, unit="weeks", times=2)
    shown = moving.would_change(team, LATER)
    assert told(shown) == (
        [],
        [(None, "2026-03-10", "Ring them"), (None, "2026-03-17", "Ring them")],
        [("2026-03-17", None, ASK)],
    )
    assert told(move(team)) == told(shown)
    assert stored(lead) == [
        ("2026-03-10", "open", ""),
        ("2026-03-17", "ended", "the plan changed on 3 Mar 2026"),
        ("2026-03-17", "open", ""),
    ]
    # the reason stays, whatever happens to the lead later
    DecisionFactory(lead=lead, kind="engaged", day=TODAY, recorded_at=LATER)
    settle(team, [lead.pk], now=LATER + timedelta(days=7))
    assert ("2026-03-17", "ended", "the plan changed on 3 Mar 2026") in stored(lead)


def test_turns_that_are_no_longer_asked_for_end(team, cast, edit):
    lead = LeadFactory(team=team)
    DecisionFactory(lead=lead, day=TODAY, recorded_at=NOW)
    settle(team, [lead.pk], now=NOW)
    edit("no budget yet", times=3)
    changes = move(team)
    assert (len(changes.moved), len(changes.added), len(changes.ended)) == (0, 0, 5)
    assert [state for _, state, _ in stored(lead)] == ["open"] * 3 + ["ended"] * 5


def test_what_was_put_off_by_hand_keeps_its_day(team, lead, edit):
    FollowUp.objects.update(due_on=date(2026, 4, 7))
    edit(count=5)
    assert not moving.would_change(team, LATER)
    move(team)
    (row,) = FollowUp.objects.all()
    assert (row.due_on, row.planned_on) == (date(2026, 4, 7), date(2026, 3, 10))


def test_what_a_member_did_dropped_or_added_is_left_alone(team, lead, edit, cast):
    FollowUp.objects.update(state="done", closed_on=TODAY, closed_by=cast.member)
    FollowUpFactory(lead=lead)
    before = list(FollowUp.objects.values_list())
    edit(count=5)
    assert not move(team)
    edit(remove=True)
    assert not move(team)
    assert list(FollowUp.objects.values_list()) == before


def test_nothing_is_called_up_that_would_lie_behind(team, edit):
    lead = LeadFactory(team=team)
    DecisionFactory(lead=lead, kind="gone quiet", day=date(2026, 1, 5), recorded_at=NOW)
    settle(team, [lead.pk], now=NOW)
    edit("gone quiet", count=2, unit="weeks", times=6)
    # 19 January, 2 and 16 February lie behind; the first was asked for in July
    assert told(move(team))[:2] == (
        [("2026-07-06", "2026-03-03", "Write once more after the silence")],
        [(None, day, "Write once more after the silence") for day in ("2026-03-16", "2026-03-30")],
    )


def test_what_is_late_stays_late_when_another_step_changes(team, lead, edit):
    late = NOW + timedelta(days=30)
    edit("gone quiet", count=2, now=late)
    assert not move(team, late)
    edit(count=2, now=late)
    assert not move(team, late)
    assert stored(lead) == [("2026-03-17", "open", "")]


def test_a_step_that_is_put_back_opens_what_its_going_had_ended(team, lead, edit, cast):
    before = stored(lead)
    edit(remove=True)
    move(team)
    editing.put_back(team=team, number=2, member=cast.member, now=LATER)
    assert told(moving.would_change(team, LATER)) == ([], [(None, "2026-03-17", ASK)], [])
    move(team)
    assert stored(lead) == before


def test_telling_it_twice_moves_once_and_an_older_plan_is_not_told(team, lead, edit):
    edit(count=5)
    move(team)
    before = list(FollowUp.objects.values_list())
    with moment.stopped(LATER + timedelta(days=1)):
        assert not moving.move(team=team, number=2, now=LATER + timedelta(days=1))
    assert list(FollowUp.objects.values_list()) == before
    edit(count=7)
    with pytest.raises(Refused, match="meanwhile"):
        moving.move(team=team, number=2, now=LATER)
    assert list(FollowUp.objects.values_list()) == before


def test_the_plan_waits_until_it_is_told_and_not_for_words(team, edit):
    assert not waits(in_force(team))
    edit(action="Ring them")
    assert not waits(in_force(team))
    edit(count=5)
    assert waits(in_force(team))
    edit(count=10)
    assert waits(in_force(team))
    move(team)
    assert not waits(in_force(team))
    assert len(in_force(team)) == 1


def test_another_teams_leads_stay_where_they_are(team, lead, edit, cast):
    ensure_plan(cast.other_team)
    other = LeadFactory(team=cast.other_team)
    ProposalFactory(lead=other)
    settle(cast.other_team, [other.pk], now=NOW)
    before = stored(other)
    edit(count=5)
    assert len(move(team).moved) == 1
    assert stored(other) == before


def test_looking_writes_nothing_and_takes_as_many_queries_for_many_leads(team, lead, edit):
    edit(count=5)
    reads = [
        "followups_planedition",
        "followups_planstep",
        "leads_lead",
        "leads_lead",
        "discovery_deliverable",
        "discovery_discoverysession",
        "leads_proposal",
        "leads_decision",
        "leads_funding",
        "followups_followup",
    ]
    assert tables(lambda: moving.would_change(team, LATER)) == reads
    more = [LeadFactory(team=team) for _ in range(5)]
    for one in more:
        ProposalFactory(lead=one)
    settle(team, [one.pk for one in more], now=NOW)
    before = list(FollowUp.objects.values_list())
    assert len(moving.would_change(team, LATER).moved) == 6
    assert tables(lambda: moving.would_change(team, LATER)) == reads
    assert list(FollowUp.objects.values_list()) == before
