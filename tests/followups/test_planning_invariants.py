"""What holds of every plan, whatever the facts."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.clock.workdays import WorkCalendar
from pipeline.followups.models import FollowUp, PlanStep, Trigger, Unit
from pipeline.followups.planning import Fact, plan
from pipeline.followups.settling import Known, Settled
from pipeline.teams.models import Team
from tests.conftest import NOW
from tests.followups.planning import by

DAYS = st.dates(date(1990, 1, 1), date(2060, 12, 31))
CALENDARS = st.builds(
    WorkCalendar,
    country=st.sampled_from(["", "PT", "US", "JP"]),
    weekdays=st.frozensets(st.integers(0, 6), min_size=1),
)
FACTS = st.lists(
    st.builds(
        Fact,
        trigger=st.sampled_from(Trigger.values),
        day=DAYS,
        title=st.sampled_from(["", "Map", "a|b|c"]),
        expected_on=st.none() | DAYS,
        plan_from=st.none() | DAYS,
    ),
    max_size=6,
)
STEPS = st.lists(
    st.builds(
        PlanStep,
        trigger=st.sampled_from(Trigger.values),
        position=st.integers(1, 3),
        action=st.just("Write"),
        count=st.integers(0, 60),
        unit=st.sampled_from(Unit.values),
        times=st.integers(1, 4),
    ),
    max_size=6,
    unique_by=lambda step: (step.trigger, step.position),
)


@given(FACTS, STEPS, CALENDARS)
def test_no_follow_up_lies_on_a_day_on_which_nobody_works(facts, steps, calendar):
    assert all(calendar.is_working(item.due_on) for item in plan(facts, by(steps), calendar))


@given(FACTS, STEPS, CALENDARS)
def test_none_is_due_before_its_fact_or_before_the_planning_starts(facts, steps, calendar):
    for item in plan(facts, by(steps), calendar):
        assert item.due_on >= item.fact.day
        assert item.fact.plan_from is None or item.due_on >= item.fact.plan_from


@given(FACTS, STEPS, CALENDARS)
def test_every_key_is_there_once_and_fits_its_column(facts, steps, calendar):
    keys = [item.key for item in plan(facts, by(steps), calendar)]
    assert len(set(keys)) == len(keys)
    assert all(len(key) <= FollowUp._meta.get_field("key").max_length for key in keys)


@given(st.lists(FACTS, min_size=2, max_size=4), STEPS, st.data())
def test_settling_twice_changes_nothing_whatever_happened_before(histories, steps, data):
    team = Team(pk=1, name="Harbour Studio", timezone="Europe/Lisbon")
    stored: list[FollowUp] = []
    for facts in histories:
        known = Known(owner=None, facts=facts)
        known.recorded_at = {fact.key: NOW for fact in facts}
        first = Settled(team, 1, known, stored, NOW)
        first.run(by(steps), WorkCalendar())
        stored = stored + first.made

        again = Settled(team, 1, known, stored, NOW + timedelta(days=1))
        again.run(by(steps), WorkCalendar())
        assert (again.made, again.changed) == ([], [])

        wanted = {item.key for item in plan(facts, by(steps), WorkCalendar())}
        for row in stored:
            if row.state == "open":
                assert row.key in wanted
            elif row.state == "ended":
                assert row.key not in wanted
                assert row.reason
        if stored:
            row = data.draw(st.sampled_from(stored))
            if row.state == "open":
                row.state, row.closed_on = "done", data.draw(DAYS)


@pytest.mark.parametrize("title", ["x" * 120, "|" * 120])
def test_the_longest_title_leaves_room_for_the_rest_of_the_key(title):
    step = PlanStep(
        trigger="deliverable sent", position=32767, count=1, unit="weeks", times=24, action=""
    )
    wanted = plan([Fact("deliverable sent", date.max, title)], by([step]), WorkCalendar())
    assert all(len(item.key) <= 200 for item in wanted)
