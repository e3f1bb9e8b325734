"""Who does whose work on a day: a pure function of the absences, and what the page says of it."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.teams.cover import cover_on
from pipeline.teams.models import Absence, Member, Role, stand_ins
from tests.conftest import TODAY
from tests.factories import AbsenceFactory

YESTERDAY, TOMORROW = TODAY - timedelta(days=1), TODAY + timedelta(days=1)


def member(pk: int, *, role: str = Role.MEMBER, left: date | None = None) -> Member:
    return Member(pk=pk, role=role, left_on=left)


def away(who: int, by: Member | None, first: date = TODAY, last: date = TODAY) -> Absence:
    return Absence(member_id=who, stand_in=by, first_day=first, last_day=last)


def test_the_named_one_stands_in_from_the_first_day_to_the_last():
    absence = away(1, member(2), YESTERDAY, TOMORROW)
    for day in (YESTERDAY, TODAY, TOMORROW):
        assert stand_ins([absence], day) == {1: 2}
    for day in (YESTERDAY - timedelta(days=1), TOMORROW + timedelta(days=1)):
        assert stand_ins([absence], day) == {}


@pytest.mark.parametrize(
    ("absences", "expected"),
    [
        pytest.param([away(1, None)], {1: None}, id="nobody named"),
        pytest.param([away(1, member(2)), away(2, member(3))], {1: 3, 2: 3}, id="a chain"),
        pytest.param(
            [away(1, member(2)), away(2, member(3)), away(3, member(4))],
            {1: 4, 2: 4, 3: 4},
            id="a longer chain",
        ),
        pytest.param([away(1, member(2)), away(2, None)], {1: None, 2: None}, id="ends at nobody"),
        pytest.param([away(1, member(2)), away(2, member(1))], {1: None, 2: None}, id="a circle"),
        pytest.param([away(1, member(1))], {1: None}, id="a circle of one"),
        pytest.param(
            [away(1, member(2)), away(2, member(3)), away(3, member(2))],
            {1: None, 2: None, 3: None},
            id="into a circle",
        ),
        pytest.param([away(1, member(2, left=YESTERDAY))], {1: None}, id="has left"),
        pytest.param([away(1, member(2, role=Role.READER))], {1: None}, id="reads only"),
        pytest.param(
            [away(1, member(2)), away(2, member(3), TOMORROW, TOMORROW)],
            {1: 2},
            id="the stand-in is away another day",
        ),
    ],
)
def test_who_stands_in_today(absences, expected):
    assert stand_ins(absences, TODAY) == expected


PEOPLE = range(1, 7)
everybody_named = st.dictionaries(
    st.sampled_from(PEOPLE), st.one_of(st.none(), st.sampled_from(PEOPLE)), max_size=6
)


@given(named=everybody_named, left=st.sets(st.sampled_from(PEOPLE)))
def test_whoever_stands_in_is_there_and_is_reached_through_those_who_are_not(named, left):
    people = {pk: member(pk, left=YESTERDAY if pk in left else None) for pk in PEOPLE}
    found = stand_ins([away(a, people.get(b or 0)) for a, b in named.items()], TODAY)
    assert set(found) == set(named)
    for who, by in found.items():
        # a walk of its own: so many steps that any way out has been found
        at = named[who]
        for _ in PEOPLE:
            at = named[at] if at in named and at not in left else at
        there = at is not None and at not in named and at not in left
        assert by == (at if there else None)


def test_cover_is_one_query_of_those_who_are_here(cast, django_assert_num_queries):
    AbsenceFactory(member=cast.member, stand_in=cast.owner)
    AbsenceFactory(member=cast.other_owner)
    AbsenceFactory(member=cast.owner, first_day=TOMORROW)
    with django_assert_num_queries(1):
        cover = cover_on(cast.team, TODAY)
        assert cover.by == {cast.member.pk: cast.owner.pk}
        assert cover.told(cast.owner) == [
            "You stand in for Mateus Coelho, who is away until Tue 3 Mar 2026."
        ]
    assert Absence.objects.away(cast.team, TODAY) == {cast.member.pk: cast.owner.pk}
    Member.objects.filter(pk=cast.member.pk).update(left_on=YESTERDAY)
    assert Absence.objects.away(cast.team, TODAY) == {}


def test_each_is_told_what_the_absences_of_today_make_theirs(cast):
    AbsenceFactory(member=cast.owner, stand_in=cast.member, last_day=TOMORROW)
    cover = cover_on(cast.team, TODAY)
    assert cover.told(cast.owner) == [
        "You are away until Wed 4 Mar 2026; Mateus Coelho does your work."
    ]
    assert cover.told(cast.reader) == []
    assert cover.whose(cast.owner) == "Mateus Coelho (for Olive Brandt, away until 4 Mar 2026)"
    assert cover.whose(cast.member) == "Mateus Coelho"
    assert cover.whose(None) == ""

    AbsenceFactory(member=cast.member, stand_in=cast.owner)
    cover = cover_on(cast.team, TODAY)
    assert cover.told(cast.reader) == [
        "Olive Brandt is away until Wed 4 Mar 2026, and nobody stands in.",
        "Mateus Coelho is away until Tue 3 Mar 2026, and nobody stands in.",
    ]
    assert cover.whose(cast.owner) == "nobody (Olive Brandt is away until 4 Mar 2026)"
    assert cover.told(cast.member)[1] == (
        "You are away until Tue 3 Mar 2026; nobody stands in: your work is everybody’s."
    )
