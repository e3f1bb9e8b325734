"""The lane chart as a table: typed, pasted, moved by buttons; stored as a whole, once."""

import pytest

from sessions.models import LaneChart, LaneStep
from sessions.takeaways.chart import MOST_STEPS, StepDraft
from sessions.takeaways.harvest import chart_of
from tests.sessions.pages import at, said

from .conftest import STEPS


def table(*lines: dict, version: int = 1, do: str = "save", **more) -> dict:
    """Return what a browser posts from the table."""
    data = {
        "version": version,
        "do": do,
        "steps-TOTAL_FORMS": len(lines),
        "steps-INITIAL_FORMS": 0,
    } | more
    for number, line in enumerate(lines):
        blank = {"lane": "", "text": "", "handed_over": "", "why": ""}
        data |= {f"steps-{number}-{name}": value for name, value in (blank | line).items()}
    return data


A, B = {"lane": "Family", "text": "Calls"}, {"lane": "Office", "text": "Writes it down"}


@pytest.fixture
def page(cast, held):
    return at(cast.team, "lane-chart", held.pk)


def drawn(answer) -> list[tuple[str, str]]:
    return [(step.lane, step.text) for step in answer.context["chart"].steps]


def test_a_chart_is_stored_without_its_blank_lines(cast, sign_in, held, page):
    data = table(A, {}, B | {"handed_over": "the\r\ncall", "look_next": "on", "why": "Slow"}, {})
    answer = sign_in(cast.member).post(page, data)
    assert answer.url == at(cast.team, "write-up", held.pk)
    assert chart_of(held).steps == (
        StepDraft("Family", "Calls"),
        StepDraft("Office", "Writes it down", "the call", True, "Slow"),
    )


@pytest.mark.parametrize(
    ("do", "order"),
    [
        ("up:1", ["Writes it down", "Calls"]),
        ("down:0", ["Writes it down", "Calls"]),
        ("up:0", ["Calls", "Writes it down"]),
        ("down:1", ["Calls", "Writes it down"]),
        ("remove:0", ["Writes it down"]),
        ("below:0", ["Calls", "Writes it down"]),
        ("draw", ["Calls", "Writes it down"]),
        ("up:99", ["Calls", "Writes it down"]),
        ("up:²", ["Calls", "Writes it down"]),
        ("nonsense", ["Calls", "Writes it down"]),
    ],
)
def test_a_button_changes_the_table_and_stores_nothing(cast, sign_in, page, do, order):
    answer = sign_in(cast.member).post(page, table(A, B, do=do))
    assert answer.status_code == 200
    assert [text for _, text in drawn(answer)] == order
    assert not LaneChart.objects.exists()


def test_a_line_is_put_in_between_and_the_hand_lands_in_it(cast, sign_in, page):
    answer = sign_in(cast.member).post(page, table(A, B, do="below:0"))
    forms = answer.context["forms"].steps.forms
    assert [form["text"].value() for form in forms[:3]] == ["Calls", None, "Writes it down"]
    assert "autofocus" in str(forms[1]["lane"])


def test_many_pasted_lines_become_steps(cast, sign_in, page):
    text = "Family; Calls\nOffice;Writes it down;the call\n\n;;\nTreasurer\tPays"
    answer = sign_in(cast.member).post(page, table(A, do="paste", lines=text))
    assert drawn(answer) == [
        ("Family", "Calls"),
        ("Family", "Calls"),
        ("Office", "Writes it down"),
        ("Treasurer", "Pays"),
    ]


@pytest.mark.parametrize(
    ("line", "field"),
    [
        ({"lane": "Office"}, "text"),
        ({"text": "Calls"}, "lane"),
        (A | {"lane": "x" * 61}, "lane"),
        (A | {"why": "x" * 301}, "why"),
        (A | {"text": "a\x00b"}, "text"),
    ],
)
def test_a_wrong_line_is_named_and_nothing_is_lost(cast, sign_in, page, line, field):
    answer = sign_in(cast.member).post(page, table(B, line))
    assert answer.status_code == 422
    assert field in answer.context["forms"].steps.errors[1]
    assert "Writes it down" in answer.content.decode()
    assert not LaneChart.objects.exists()


def test_more_parties_than_fit_on_a_page_are_refused(cast, sign_in, page):
    lines = [{"lane": f"Party {n}", "text": "Waits"} for n in range(9)]
    answer = sign_in(cast.member).post(page, table(*lines))
    assert answer.status_code == 422
    assert "Give some parties one name" in answer.content.decode()
    assert not LaneChart.objects.exists()


def test_more_steps_than_are_kept_are_refused(cast, sign_in, page):
    answer = sign_in(cast.member).post(page, table(*[A] * (MOST_STEPS + 1)))
    assert answer.status_code == 422
    assert not LaneChart.objects.exists()


def test_a_second_click_stores_it_once(cast, sign_in, held, page):
    browser = sign_in(cast.member)
    browser.post(page, table(A, B))
    again = browser.post(page, table(A, B), follow=True)
    assert "stored already" in said(again)[-1]
    assert (LaneChart.objects.get().version, LaneStep.objects.count()) == (2, 2)


def test_of_two_who_draw_the_second_sees_both_and_may_store_over_it(cast, sign_in, held, page):
    sign_in(cast.owner).post(page, table(A))
    browser = sign_in(cast.member)
    answer = browser.post(page, table(B))
    assert answer.status_code == 409
    assert [step.text for step in answer.context["stored"].steps] == ["Calls"]
    assert drawn(answer) == [("Office", "Writes it down")]
    assert [step.text for step in chart_of(held).steps] == ["Calls"]
    version = answer.context["forms"].head["version"].value()
    assert browser.post(page, table(B, version=version)).status_code == 302
    assert [step.text for step in chart_of(held).steps] == ["Writes it down"]


def test_a_chart_can_be_emptied(cast, sign_in, heard):
    page = at(cast.team, "lane-chart", heard.pk)
    sign_in(cast.member).post(page, table({}, version=2))
    assert chart_of(heard).steps == ()


def test_the_table_opens_with_the_stored_steps_and_spare_lines(cast, sign_in, heard):
    answer = sign_in(cast.member).get(at(cast.team, "lane-chart", heard.pk))
    forms = answer.context["forms"].steps.forms
    assert len(forms) == len(STEPS) + 2
    assert answer.context["chart"].steps == STEPS
    assert answer.context["forms"].lanes == ["Family", "Office", "Treasurer"]


def test_a_table_without_its_bookkeeping_is_told_and_no_crash(cast, sign_in, page):
    for data in ({"version": "1"}, {"do": "up:0"}, {"do": "save", "steps-TOTAL_FORMS": "x"}):
        assert sign_in(cast.member).post(page, data).status_code in (200, 422)
    assert not LaneChart.objects.exists()
