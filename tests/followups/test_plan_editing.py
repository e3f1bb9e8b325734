"""A team edits its plan: nothing moves by itself, and nobody is overwritten."""

from datetime import timedelta

import pytest

from pipeline.clock import moment
from pipeline.followups import editing
from pipeline.followups.models import FollowUp, PlanEdition, PlanStep
from pipeline.followups.plans import ensure_plan
from pipeline.leads.settle import settle
from pipeline.teams.models import Stale
from pipeline.teams.refused import Refused
from tests.conftest import NOW
from tests.factories import LeadFactory, PlanStepFactory, ProposalFactory

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(hours=1)


@pytest.fixture
def team(cast):
    ensure_plan(cast.team)
    return cast.team


def step_of(team, trigger="proposal sent", position=1):
    return PlanStep.objects.current(team).get(trigger=trigger, position=position)


def told(team):
    return {
        (s.trigger, s.position): (s.action, s.count, s.unit, s.times, s.letter_subject)
        for s in PlanStep.objects.current(team)
    }


def new(**rest):
    typed = {"trigger": "engaged", "action": "Thank them", "count": 1, "unit": "weeks"}
    return PlanStep(**(typed | rest))


@pytest.fixture
def change(cast, team):
    def changed(step, *, now=LATER, **typed):
        version = step.version
        for name, value in typed.items():
            setattr(step, name, value)
        return editing.change_step(
            step=step, member=cast.member, now=now, expected_version=version
        )

    return changed


def test_a_change_makes_an_edition_with_all_steps_and_leaves_the_earlier_one(team, cast, change):
    before = told(team)
    assert change(step_of(team), count=5, unit="weeks")
    first, second = PlanEdition.objects.for_team(team)
    assert (second.number, second.made_at, second.made_by) == (2, LATER, cast.member)
    assert second.everywhere_at is None
    after = told(team)
    assert after.keys() == before.keys()
    assert {key for key in after if after[key] != before[key]} == {("proposal sent", 1)}
    assert first.steps.get(trigger="proposal sent").count == 10


def test_saying_the_same_again_makes_no_edition(team, change):
    assert not change(step_of(team))
    assert PlanEdition.objects.for_team(team).count() == 1


def test_a_new_step_never_gets_the_number_of_one_that_is_gone(team, cast):
    last = step_of(team, "no budget yet", 2)
    editing.remove_step(step=last, member=cast.member, now=LATER, expected_version=last.version)
    added = editing.add_step(
        step=new(trigger="no budget yet"), team=team, member=cast.member, now=LATER
    )
    assert added.position == 3
    assert set(told(team)) >= {("no budget yet", 1), ("no budget yet", 3)}
    assert ("no budget yet", 2) not in told(team)


def test_of_two_who_change_one_step_the_second_is_told(team, change):
    mine, yours = step_of(team), step_of(team)
    change(mine, count=5)
    with pytest.raises(Stale):
        change(yours, count=7)
    assert step_of(team).count == 5


def test_two_who_change_different_steps_do_not_meet(team, change):
    mine, yours = step_of(team), step_of(team, "gone quiet")
    change(mine, count=5)
    change(yours, count=7)
    assert (step_of(team).count, step_of(team, "gone quiet").count) == (5, 7)


def test_a_step_that_somebody_removed_is_not_changed(team, cast, change):
    mine = step_of(team)
    editing.remove_step(step=step_of(team), member=cast.owner, now=LATER, expected_version=1)
    with pytest.raises(Stale):
        change(mine, count=5)
    with pytest.raises(Stale):
        editing.remove_step(step=mine, member=cast.member, now=LATER, expected_version=1)


def test_the_earlier_plan_comes_back_as_a_new_edition_and_may_go_again(team, cast, change):
    before = told(team)
    change(step_of(team), count=5)
    changed = told(team)
    editing.put_back(team=team, number=2, member=cast.member, now=LATER)
    assert told(team) == before
    assert PlanEdition.objects.newest(team).number == 3
    editing.put_back(team=team, number=3, member=cast.member, now=LATER)
    assert told(team) == changed


def test_a_form_from_before_the_putting_back_does_not_overwrite_it(team, cast, change):
    change(step_of(team), count=5)
    opened = step_of(team)
    editing.put_back(team=team, number=2, member=cast.owner, now=LATER)
    with pytest.raises(Stale):
        change(opened, count=6)
    # what the putting back left as it was can be saved
    change(step_of(team, "gone quiet"), count=8)


def test_a_plan_is_put_back_once_and_only_as_it_was_seen(team, cast, change):
    with pytest.raises(Refused, match="no earlier plan"):
        editing.put_back(team=team, number=1, member=cast.member, now=LATER)
    change(step_of(team), count=5)
    editing.put_back(team=team, number=2, member=cast.member, now=LATER)
    with pytest.raises(Refused, match="meanwhile"):
        editing.put_back(team=team, number=2, member=cast.member, now=LATER)
    assert PlanEdition.objects.newest(team).number == 3


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"action": " \n "}, "action"),
        ({"count": 521}, "count"),
        ({"times": 25}, "times"),
        ({"times": 0}, "times"),
        ({"count": 0, "times": 2}, "count"),
        ({"unit": "fortnights"}, "unit"),
        ({"unit": "weeks before funding"}, "unit"),
        ({"letter_subject": "Hello"}, "letter_text"),
        ({"letter_text": "Hello"}, "letter_subject"),
        ({"letter_subject": "{organization}", "letter_text": "Hello"}, "letter_subject"),
        ({"letter_subject": "Hello", "letter_text": "Dear {first name"}, "letter_text"),
    ],
)
def test_what_no_plan_can_hold_is_refused_with_the_field(team, cast, typed, field):
    with pytest.raises(Refused) as refused:
        editing.add_step(step=new(**typed), team=team, member=cast.member, now=LATER)
    assert refused.value.field == field
    assert PlanEdition.objects.for_team(team).count() == 1


def test_a_plan_holds_fifty_steps_at_most(team, cast):
    edition = PlanEdition.objects.newest(team)
    for position in range(1, editing.MOST_STEPS - 6):
        PlanStepFactory(edition=edition, trigger="declined", position=position)
    with pytest.raises(Refused, match="50 steps"):
        editing.add_step(step=new(), team=team, member=cast.member, now=LATER)


def test_a_plan_of_nothing_stays_so(team, cast):
    for step in list(PlanStep.objects.current(team)):
        editing.remove_step(
            step=step, member=cast.member, now=LATER, expected_version=step.version
        )
    assert told(team) == {}
    ensure_plan(team)
    assert told(team) == {}
    lead = LeadFactory(team=team)
    ProposalFactory(lead=lead, recorded_at=LATER)
    settle(team, [lead.pk], now=LATER)
    assert not FollowUp.objects.exists()


def test_a_team_without_a_plan_begins_its_own(cast):
    editing.add_step(step=new(), team=cast.other_team, member=cast.other_owner, now=NOW)
    assert list(told(cast.other_team)) == [("engaged", 1)]
    assert not PlanEdition.objects.for_team(cast.team).exists()


def test_an_edit_alone_moves_nothing_and_new_facts_follow_the_new_plan(team, change):
    old = LeadFactory(team=team)
    ProposalFactory(lead=old, recorded_at=NOW)
    settle(team, [old.pk], now=NOW)
    before = list(FollowUp.objects.values_list())
    change(step_of(team), count=5)
    young = LeadFactory(team=team)
    ProposalFactory(lead=young, recorded_at=LATER)
    with moment.stopped(LATER):
        settle(team, [old.pk, young.pk], now=LATER)
    assert list(FollowUp.objects.filter(lead=old).values_list()) == before
    days = dict(FollowUp.objects.values_list("lead", "due_on"))
    assert (days[old.pk] - days[young.pk]).days == 7
