"""The arithmetic of an agenda."""

from hypothesis import given
from hypothesis import strategies as st

from sessions.agenda import agenda_of
from sessions.formats import SHIPPED
from sessions.models import Way


def test_an_hour_with_32_minutes_of_steps_leaves_28_for_welcome_hand_overs_and_close():
    # common practice, no source
    hour = agenda_of(
        60,
        [
            (Way.TALK, 10),
            (Way.WRITE, 5),
            (Way.WRITE, 5),
            (Way.WRITE, 5),
            (Way.VOTE, 7),
        ],
    )
    assert (hour.planned, hour.slack) == (32, 28)
    assert hour.by_way == {Way.TALK: 10, Way.WRITE: 15, Way.VOTE: 7}
    assert hour.offsets == [0, 10, 15, 20, 25]


def test_steps_that_pass_the_booked_time_are_told_as_over_not_as_slack():
    assert agenda_of(30, [(Way.TALK, 45)]).over == 15
    assert agenda_of(30, [(Way.TALK, 45)]).slack == -15
    assert agenda_of(30, [(Way.TALK, 30)]).over == 0


def test_an_agenda_without_steps_is_all_slack():
    empty = agenda_of(60, [])
    assert (empty.planned, empty.slack, empty.by_way, empty.offsets) == (0, 60, {}, [])


steps = st.lists(st.tuples(st.sampled_from([str(w) for w in Way]), st.integers(1, 240)))


@given(st.integers(1, 1440), steps)
def test_booked_time_is_always_steps_and_slack_and_ways_always_sum_to_the_steps(booked, some):
    agenda = agenda_of(booked, some)
    assert agenda.planned + agenda.slack == booked
    assert sum(agenda.by_way.values()) == agenda.planned
    assert len(agenda.offsets) == len(some)


@given(st.integers(1, 1440), steps)
def test_the_order_of_steps_changes_no_sum(booked, some):
    there, back = agenda_of(booked, some), agenda_of(booked, reversed(some))
    assert (there.planned, there.slack, there.by_way) == (back.planned, back.slack, back.by_way)


def test_shipped_formats_go_from_welcome_to_next_steps_and_leave_slack():
    assert sorted(plan.minutes for plan in SHIPPED) == [30, 60]
    for plan in SHIPPED:
        agenda = agenda_of(plan.minutes, [(way, minutes) for _, minutes, way, *_ in plan.steps])
        assert 0 < agenda.slack < plan.minutes / 4
        assert plan.steps[0][0] == "Welcome"
        assert plan.steps[-1][0] == "Next steps"
        assert {Way.TALK, Way.WRITE, Way.VOTE} <= agenda.by_way.keys()
        assert all(say for *_, say in plan.steps)
        assert "Takeaway" in [title for title, _ in plan.promises]
