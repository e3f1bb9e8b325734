"""What holds of every plan however often it is changed, whatever happened to the lead."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from pipeline.clock.workdays import WorkCalendar
from pipeline.followups.models import FollowUp, PlanStep, Unit
from pipeline.followups.planning import Edition, Fact, plan
from pipeline.followups.settling import Known, Settled
from pipeline.teams.models import Team
from tests.conftest import NOW

TEAM = Team(pk=1, name="Harbour Studio", timezone="Europe/Lisbon")
CALENDAR = WorkCalendar(country="PT")
# Few triggers and numbers, so that one edition changes what another says.
TRIGGERS = ["proposal sent", "no budget yet", "gone quiet"]
STEPS = st.lists(
    st.builds(
        PlanStep,
        trigger=st.sampled_from(TRIGGERS),
        position=st.integers(1, 2),
        action=st.just("Write"),
        count=st.integers(0, 9),
        unit=st.sampled_from(Unit.values),
        times=st.integers(1, 3),
    ),
    min_size=1,
    max_size=5,
    unique_by=lambda step: (step.trigger, step.position),
)
RECORDED = st.builds(
    Fact,
    trigger=st.sampled_from([*TRIGGERS, "engaged"]),
    day=st.dates(date(2025, 11, 1), date(2026, 4, 1)),
    title=st.sampled_from(["", "Map"]),
    expected_on=st.none() | st.dates(date(2026, 1, 1), date(2028, 1, 1)),
)
WHAT_HAPPENS = st.lists(
    st.one_of(
        st.tuples(st.just("record"), RECORDED),
        st.tuples(st.just("take back"), st.integers(0, 9)),
        st.tuples(st.just("edit"), STEPS),
        st.tuples(st.just("move"), st.none()),
        st.tuples(st.just("wait"), st.integers(1, 200)),
        st.tuples(st.just("do"), st.integers(0, 99)),
        st.tuples(st.just("put off"), st.integers(0, 99)),
    ),
    min_size=2,
    max_size=9,
)


class Story:
    """One lead, its plan and its follow-ups, as they come about step by step."""

    def __init__(self, steps):
        self.now = NOW
        self.facts: list[Fact] = []
        self.editions = [Edition(1, steps)]
        self.stored: list[FollowUp] = []

    def happen(self, what, of):
        self.now += timedelta(hours=1)
        open_ones = [row for row in self.stored if row.state == "open"]
        match what:
            case "record":
                self.facts.append(replace(of, recorded_at=self.now))
            case "take back" if self.facts:
                self.facts.pop(of % len(self.facts))
            case "edit":
                self.editions.append(Edition(len(self.editions) + 1, of, made_at=self.now))
            case "move" if self.editions[-1].made_at and not self.editions[-1].everywhere_from:
                self.editions[-1] = replace(
                    self.editions[-1], everywhere_from=TEAM.today(self.now)
                )
            case "wait":
                self.now += timedelta(days=of)
            case "do" if open_ones:
                row = open_ones[of % len(open_ones)]
                row.state, row.closed_on = "done", TEAM.today(self.now)
            case "put off" if open_ones:
                row = open_ones[of % len(open_ones)]
                row.due_on = CALENDAR.on_or_after(TEAM.today(self.now) + timedelta(days=of + 1))

    def settle(self, editions=None):
        """Settle, and return what was made and changed, as it was before and is now."""
        known = Known(owner=None, facts=sorted(self.facts, key=lambda fact: fact.day))
        known.recorded_at = {fact.key: fact.recorded_at for fact in known.facts}
        was = {id(row): told(row) for row in self.stored}
        settled = Settled(TEAM, 1, known, self.stored, self.now)
        settled.run(editions or self.editions, CALENDAR)
        self.stored = self.stored + settled.made
        return settled.made, [(was[id(row)], told(row)) for row in settled.changed]


def told(row):
    return row.key, row.due_on, row.planned_on, row.state, row.reason


@given(STEPS, WHAT_HAPPENS)
def test_planning_twice_changes_nothing_however_the_plan_was_changed(steps, happens):
    story = Story(steps)
    for what, of in happens:
        story.happen(what, of)
        story.settle()
        assert story.settle() == ([], [])
        story.now += timedelta(days=1)
        assert story.settle() == ([], [])


@given(STEPS, WHAT_HAPPENS, STEPS)
def test_a_changed_plan_moves_nothing_by_itself(steps, happens, others):
    story = Story(steps)
    for what, of in happens:
        story.happen(what, of)
        story.settle()
    story.happen("edit", others)
    assert story.settle() == ([], [])


@given(STEPS, WHAT_HAPPENS, STEPS, st.integers(0, 200))
def test_telling_it_to_move_calls_up_nothing_that_lies_behind(steps, happens, others, days):
    story = Story(steps)
    for what, of in happens:
        story.happen(what, of)
        story.settle()
    story.happen("edit", others)
    story.happen("wait", days)
    story.settle()
    story.happen("move", None)
    made, changed = story.settle()
    today = TEAM.today(story.now)
    assert all(row.due_on >= today for row in made)
    for (_, was, _, before, _), (_, becomes, _, after, _) in changed:
        if before == after == "open" and was != becomes:
            assert becomes >= today


@given(STEPS, WHAT_HAPPENS)
def test_what_is_open_is_asked_for_on_a_working_day_and_what_ended_says_why(steps, happens):
    story = Story(steps)
    for what, of in happens:
        story.happen(what, of)
        story.settle()
        facts = sorted(story.facts, key=lambda fact: fact.day)
        wanted = {item.key for item in plan(facts, story.editions, CALENDAR)}
        for row in story.stored:
            assert CALENDAR.is_working(row.due_on)
            assert CALENDAR.is_working(row.planned_on)
            if row.state == "open":
                assert row.key in wanted
            elif row.state == "ended":
                assert row.key not in wanted
                assert row.reason


@given(STEPS, WHAT_HAPPENS)
def test_what_was_before_an_edition_that_holds_everywhere_is_history(steps, happens):
    story = Story(steps)
    for what, of in happens:
        story.happen(what, of)
        story.settle()
    least = max(
        (e.number for e in story.editions if e.everywhere_from or e.made_at is None), default=1
    )
    in_force = [edition for edition in story.editions if edition.number >= least]
    assert plan(story.facts, in_force, CALENDAR) == plan(story.facts, story.editions, CALENDAR)
    assert story.settle(in_force) == ([], [])


@given(STEPS, WHAT_HAPPENS, st.integers(0, 200))
def test_what_is_late_stays_late_where_its_step_stays_the_same(steps, happens, days):
    story = Story(steps)
    for what, of in [*happens, ("move", None), ("wait", days)]:
        story.happen(what, of)
        story.settle()
    story.happen("edit", story.editions[-1].steps)
    story.happen("move", None)
    assert story.settle() == ([], [])
