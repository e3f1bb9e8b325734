"""A lane chart follows from its steps: lanes, hand-overs, arrows, where to look next."""

from hypothesis import given
from hypothesis import strategies as st

from sessions.takeaways.chart import Chart, HandOver, StepDraft

from .conftest import STEPS

CHARTS = st.lists(st.sampled_from("ABCD"), max_size=12).map(
    lambda lanes: Chart(tuple(StepDraft(lane, f"step {n}") for n, lane in enumerate(lanes)))
)


def test_lanes_come_in_the_order_in_which_parties_first_do_something():
    assert Chart(STEPS).lanes == ["Family", "Office", "Treasurer"]


def test_work_is_handed_over_where_another_lane_goes_on():
    assert [row.hand_over for row in Chart(STEPS).rows] == [
        None,
        HandOver(0, 1, "the question"),
        None,
        HandOver(1, 2, "a copy of the slip"),
    ]
    assert Chart(STEPS).hand_overs == 2


def test_places_to_look_next_keep_their_numbers():
    assert [(row.number, row.step.why) for row in Chart(STEPS).look_next] == [(3, "They disagree")]


def test_an_arrow_starts_passes_and_arrives():
    assert HandOver(0, 3, "").across(4) == ["starts-right", "passes", "passes", "arrives-left"]
    assert HandOver(2, 0, "").across(4) == ["arrives-right", "passes", "starts-left", ""]


def test_a_chart_without_steps_has_nothing():
    chart = Chart()
    assert (chart.lanes, chart.rows, chart.look_next, chart.hand_overs) == ([], [], [], 0)


@given(CHARTS)
def test_each_step_stands_once_in_its_own_lane_and_arrows_join_them(chart):
    lanes = chart.lanes
    for before, row in zip([None, *chart.rows], chart.rows, strict=False):
        assert [lanes[n] for n, step in enumerate(row.cells) if step] == [row.step.lane]
        if before is not None:
            moved = before.step.lane != row.step.lane
            assert (row.hand_over is not None) == moved
            touched = [n for n, kind in enumerate(row.arrow) if kind]
            assert {touched[0], touched[-1]} == {before.lane, row.lane}
