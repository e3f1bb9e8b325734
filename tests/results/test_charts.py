"""Drawings: steps drawn as steps, values at their places, words beside them, nothing that runs."""

from __future__ import annotations

import itertools
import re
from math import nan
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.results.charts import draw
from pipeline.results.charts.curve import Reading, step_curve
from pipeline.results.charts.marks import Mark, side_by_side
from pipeline.results.charts.scale import (
    Scale,
    day_values,
    points_label,
    share_label,
    share_values,
    whole_values,
)
from pipeline.stats.incidence import cumulative_incidence

SPACE = {"s": "http://www.w3.org/2000/svg"}


def marks(*rows: Mark, **more):
    signs = {"dot": "engaged", "line": "95% interval", **more}
    return side_by_side(
        "some", "Side by side", "What it says.", rows, [0, 0.5, 1], share_label, **signs
    )


def curve(readings, last, at_risk_on=lambda day: 7):
    return step_curve(
        "return",
        "Delayed return",
        "What it says.",
        readings,
        last,
        at_risk_on,
        line_label="returned",
        other_label="closed first",
        band_label="95% band",
    )


def parsed(chart) -> ElementTree.Element:
    return ElementTree.fromstring(str(draw.in_page(chart)))


def points(path: str) -> list[tuple[str, float]]:
    return [(letter, float(number)) for letter, number in re.findall(r"([HV])([\d.]+)", path)]


def test_a_curve_is_level_up_to_each_day_and_rises_there():
    """Day 50 of 100 lies half way from 40 to 348; the scale ends at 100%, from 206 up to 52."""
    drawn = curve([Reading(50, 0.5, 0.2, 0.7, 0.0), Reading(75, 1.0, nan, nan, 0.0)], 100)
    assert drawn.line == "M40.0 206.0H194.0V129.0H271.0V52.0H348.0"
    assert drawn.other == "M40.0 206.0H348.0"


def test_a_curve_has_no_slope_anywhere():
    rng = np.random.default_rng(11)
    told = cumulative_incidence(rng.integers(0, 900, 80), rng.choice([0, 1, 2], 80))
    readings = [
        Reading(
            int(day),
            *map(float, (told.incidence[0, n], told.low[0, n], told.high[0, n])),
            float(told.incidence[1, n]),
        )
        for n, day in enumerate(told.days)
    ]
    drawn = curve(readings, int(told.days[-1]), told.at_risk_on)
    for path in (drawn.line, drawn.other):
        assert set(re.findall("[A-Za-z]", path)) == {"M", "H", "V"}
    corners = [
        tuple(map(float, pair.split())) for pair in re.findall(r"[\d.]+ [\d.]+", drawn.band)
    ]
    for (x1, y1), (x2, y2) in itertools.pairwise(corners):
        assert x1 == x2 or y1 == y2


def test_what_happens_on_day_0_is_drawn_on_day_0():
    assert curve([Reading(0, 0.25, 0.1, 0.4, 0.0)], 90).line.startswith("M40.0 206.0H40.0V")


def test_a_curve_ends_where_nobody_is_watched_any_more():
    drawn = curve([Reading(10, 0.1, 0.05, 0.2, 0.0), Reading(95, 0.3, 0.1, 0.5, 0.0)], 90)
    assert "H348.0" in drawn.line
    assert len([x for letter, x in points(drawn.line) if letter == "V"]) == 1


def test_a_band_begins_with_the_first_event_and_stops_where_the_curve_has_ended():
    drawn = curve([Reading(50, 0.5, 0.2, 0.7, 0.0), Reading(75, 1.0, nan, nan, 0.0)], 100)
    places = [float(x) for x in re.findall(r"([\d.]+) [\d.]+", drawn.band)]
    assert (min(places), max(places)) == (194.0, 271.0)
    assert curve([Reading(50, 0.0, nan, nan, 0.2)], 100).band == ""


def test_how_many_are_at_risk_stands_under_each_day():
    drawn = curve([Reading(10, 0.1, 0.05, 0.2, 0.0)], 400, lambda day: 500 - day)
    assert [tick.label for tick in drawn.days] == ["0", "90", "180", "365"]
    assert [at.number for at in drawn.at_risk] == ["500", "410", "320", "135"]


def test_days_that_would_stand_on_each_other_are_left_out():
    drawn = curve([Reading(10, 0.1, 0.05, 0.2, 0.0)], 3000)
    places = [float(tick.place) for tick in drawn.days]
    assert all(later - earlier >= 24 for earlier, later in itertools.pairwise(places))


def test_a_dot_an_interval_and_a_ring_stand_at_their_values():
    """On a scale from 0 to 1 that runs from 12 to 348."""
    svg = parsed(marks(Mark("hour", "1 of 4", 0.25, 0.0, 0.75, 0.5), ring="shrunken"))
    row = svg.findall("s:g", SPACE)[-1]
    assert [circle.get("cx") for circle in row.findall("s:circle", SPACE)] == ["96.0", "180.0"]
    assert [(line.get("x1"), line.get("x2")) for line in row.findall("s:line", SPACE)] == [
        ("12.0", "264.0")
    ]


def test_what_cannot_be_told_is_not_drawn():
    svg = parsed(marks(Mark("new", "0 of 0", None)))
    row = svg.findall("s:g", SPACE)[-1]
    assert [text.text for text in row.findall("s:text", SPACE)] == ["new", "0 of 0"]
    assert not row.findall("s:circle", SPACE)
    assert not row.findall("s:line", SPACE)


def test_a_difference_of_nothing_is_marked():
    drawn = side_by_side(
        "d",
        "t",
        "d",
        [Mark("a", "", 0.1, -0.2, 0.4)],
        [-0.5, 0, 0.5],
        points_label,
        dot="x",
        line="y",
        zero=0,
    )
    assert drawn.zero == "180.0"
    assert [tick.label for tick in drawn.ticks] == ["-50", "0", "+50"]


@pytest.mark.parametrize("place", [draw.in_page, draw.alone, draw.in_document])
def test_a_drawing_has_title_and_description_and_nothing_that_runs(place):
    hostile = Mark('<script>alert("x")</script>\x00\x0b\u202e', "1 & 2", 0.5, 0.2, 0.8)
    text = str(place(marks(hostile)))
    svg = ElementTree.fromstring(text)
    ids = svg.get("aria-labelledby").split()
    named = {node.get("id"): node.text for node in svg.iter() if node.get("id")}
    assert [named[name] for name in ids] == ["Side by side", "What it says."]
    assert svg.get("role") == "img"
    assert "<script" not in text
    assert not {"\x00", "\x0b", "\u202e"} & set(text)
    for node in svg.iter():
        assert node.tag.split("}")[1] not in {"style", "script", "foreignObject", "image", "a"}
        assert not [name for name in node.attrib if name.startswith("on") or name == "style"]


def test_a_drawing_on_a_page_takes_its_colours_from_the_page():
    for chart in (marks(Mark("a", "", 0.5, 0.2, 0.8)), curve([Reading(9, 0.1, 0.05, 0.2, 0)], 90)):
        colours = {
            node.get(name) for node in parsed(chart).iter() for name in ("fill", "stroke", "color")
        }
        assert colours <= {"currentColor", "none", None}


def test_a_drawing_in_a_file_brings_its_title_ink_and_paper():
    svg = ElementTree.fromstring(draw.alone(marks(Mark("a", "", 0.5, 0.2, 0.8))))
    assert svg.get("color")
    assert svg.find("s:rect", SPACE).get("fill") == "#ffffff"
    assert svg.find("s:text", SPACE).text == "Side by side"


@given(st.floats(0, 1))
def test_a_scale_of_shares_holds_the_highest(highest):
    values = share_values(highest)
    assert values[0] == 0
    assert highest <= values[-1] <= 1


@given(st.integers(0, 40_000))
def test_few_days_are_written_and_none_after_the_last(last):
    values = day_values(last)
    assert values[0] == 0
    assert len(values) <= 12
    assert values == sorted(set(values))
    assert values[-1] <= last


@given(st.integers(-10_000, 10_000), st.integers(0, 10_000))
def test_a_scale_of_whole_numbers_holds_both_ends_in_few_steps(lowest, more):
    values = whole_values(lowest, lowest + more)
    assert values[0] <= lowest
    assert values[-1] >= lowest + more
    assert 2 <= len(values) <= 7
    assert all(value == int(value) for value in values)


@given(st.floats(-5, 5))
def test_a_place_never_leaves_the_drawing(value):
    assert 12 <= float(Scale(0, 1, 12, 348).place(value)) <= 348
