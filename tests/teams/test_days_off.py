"""A team's own days off: typed a line each, kept as days, and no working days."""

from datetime import date, timedelta

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from pipeline.teams.days_off import LONGEST, DaysOffField, read, written
from pipeline.teams.models import Team
from tests.teams.test_team_page import settings_of

WINTER = "2026-12-24 to 2027-01-01 Winter break"


def test_spans_and_single_days_are_read_in_order_of_their_days():
    typed = f"""
        {WINTER}
        2026-05-15
        2026-06-12   Summer   party
        2026-08-03 – 2026-08-07
    """
    assert read(typed) == [
        ["2026-05-15", "2026-05-15", ""],
        ["2026-06-12", "2026-06-12", "Summer party"],
        ["2026-08-03", "2026-08-07", ""],
        ["2026-12-24", "2027-01-01", "Winter break"],
    ]


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("24.12.2026", "“24.12.2026” is no day. Write days such as 2026-12-24."),
        ("2026-02-29 Leap day", "“2026-02-29” is no day"),
        ("2026-12-24 to 2026-13-01", "“2026-13-01” is no day"),
        ("2026-W52-4", "“2026-W52-4” is no day"),
        ("20261224", "“20261224” is no day"),
        ("Winter break", "“Winter” is no day"),
        ("2026-12-24 to 2026-12-01", "2026-12-01 lies before 2026-12-24"),
        ("2026-12-24 to 2062-12-24", "more than a year. Is the year right?"),
        ("2026-12-24 " + "x" * 81, "shorten the name to 80 letters"),
        ("9" * 5000, "is no day"),
    ],
)
def test_what_is_wrong_with_a_line_is_said_with_its_number(line, said):
    with pytest.raises(ValidationError) as wrong:
        read(f"{WINTER}\n\n{line}\nnonsense")
    first, second = wrong.value.messages
    assert first.startswith("Line 3: ")
    assert said in first
    assert second.startswith("Line 4: ")


def test_a_name_may_begin_with_the_word_to():
    assert read("2026-05-15 to the sea") == [["2026-05-15", "2026-05-15", "to the sea"]]


def test_two_hundred_spans_are_kept_and_one_more_is_too_many():
    day = date(2026, 1, 1)
    lines = [(day + timedelta(days=n)).isoformat() for n in range(201)]
    assert len(read("\n".join(lines[:200]))) == 200
    with pytest.raises(ValidationError, match="these are 201"):
        read("\n".join(lines))


names = st.text(st.characters(categories=["L", "P"]), max_size=80).map(lambda w: w.strip())
spans = st.builds(
    lambda first, days, name: [
        first.isoformat(),
        (first + timedelta(days=days)).isoformat(),
        name,
    ],
    st.dates(date(2000, 1, 1), date(2100, 1, 1)),
    st.integers(0, LONGEST.days),
    names.filter(lambda name: not name.startswith(("-", "–"))),
)


@given(st.lists(spans, max_size=20))
def test_what_is_written_out_reads_as_it_was(kept):
    assert read(written(sorted(kept))) == sorted(kept)
    assert not DaysOffField().has_changed(written(sorted(kept)), written(sorted(kept)))


def test_on_days_off_nobody_works_and_due_days_go_past_them(cast):
    cast.team.days_off = read(f"{WINTER}\n2026-06-12 Party")
    calendar = cast.team.calendar()
    assert calendar.add(date(2026, 12, 23), 1) == date(2027, 1, 4)
    assert not calendar.is_working(date(2026, 6, 12))
    assert calendar.is_working(date(2026, 6, 11))


def test_an_owner_types_days_off_and_everybody_sees_those_to_come(cast, sign_in):
    url = reverse("team-settings", args=["harbour"])
    typed = settings_of(cast.team, days_off=f"{WINTER}\n2026-01-02 Bridge day")
    assert sign_in(cast.owner).post(url, typed).status_code == 302
    page = sign_in(cast.reader).get(reverse("team", args=["harbour"])).text
    assert "Thu 24 Dec 2026 to Fri 1 Jan 2027, Winter break" in page
    assert "Bridge day" not in page
    assert WINTER in sign_in(cast.owner).get(url).text


def test_a_wrong_line_is_named_and_everything_typed_is_kept(cast, sign_in):
    url = reverse("team-settings", args=["harbour"])
    typed = settings_of(cast.team, name="Typed Name", days_off=f"{WINTER}\nsoon")
    answer = sign_in(cast.owner).post(url, typed)
    assert answer.status_code == 422
    assert answer.context["form"].errors["days_off"] == [
        "Line 2: “soon” is no day. Write days such as 2026-12-24."
    ]
    assert "soon</textarea>" in answer.text
    assert "Typed Name" in answer.text
    assert Team.objects.get(pk=cast.team.pk).days_off == []


def test_of_two_owners_the_second_sees_which_days_the_first_typed(cast, sign_in):
    browser = sign_in(cast.owner)
    url = reverse("team-settings", args=["harbour"])
    browser.post(url, settings_of(cast.team, days_off=WINTER))
    answer = browser.post(url, settings_of(cast.team, days_off="2026-05-15 Bridge day"))
    assert answer.status_code == 409
    (found,) = answer.context["differences"]
    assert (found.name, found.stored, found.typed) == (
        "days_off",
        WINTER,
        "2026-05-15 Bridge day",
    )


@pytest.mark.parametrize("wrong", [7, [1], [["2026-12-24", "2026-12-01", ""]], [["x", "y", ""]]])
def test_what_is_no_list_of_spans_is_not_stored(cast, wrong):
    cast.team.days_off = wrong
    with pytest.raises(ValidationError, match=r"[Ss]pan"):
        cast.team.full_clean()
