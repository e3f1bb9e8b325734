"""Work of those who are away: shown to the stand-in, or to everybody, and changed by nobody."""

from collections import Counter
from datetime import timedelta
from itertools import product

import pytest
from django.urls import reverse

from pipeline.clock import moment
from pipeline.followups.due import agenda
from pipeline.followups.models import FollowUp
from pipeline.teams.membership import join
from pipeline.teams.models import Absence, Member
from sessions.models import CrewPlace
from tests.conftest import NOW, TODAY
from tests.factories import (
    AbsenceFactory,
    DeliverableFactory,
    FollowUpFactory,
    LeadFactory,
    SessionFactory,
)
from tests.followups.queries import tables

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture
def lead(cast):
    return LeadFactory(team=cast.team)


@pytest.fixture
def nils(cast):
    return join(team=cast.team, email="nils@harbour.example", name="Nils Ferrand")


def owned_by(lead, member):
    """Give a member one piece of work of each kind, all due today."""
    FollowUpFactory(lead=lead, owner=member, action="Write")
    DeliverableFactory(lead=lead, owner=member, title=f"Map of {member}")
    session = SessionFactory(lead=lead, format__name=f"Hour of {member}")
    CrewPlace.objects.create(team=lead.team, session=session, member=member, part="facilitator")


def whats(cast, member, day=TODAY):
    return sorted(item.what for item in agenda(cast.team, day, member).due)


WORK = ["Send: Map of Olive Brandt", "Session: Hour of Olive Brandt", "Write"]


def test_the_stand_in_has_the_work_with_the_words_for_whom_and_nobody_else_has(cast, lead, nils):
    owned_by(lead, cast.owner)
    AbsenceFactory(member=cast.owner, stand_in=cast.member, last_day=TODAY + DAY)
    found = agenda(cast.team, TODAY, cast.member)
    assert sorted(item.what for item in found.due) == WORK
    assert {item.owner for item in found.due} == {
        "Mateus Coelho (for Olive Brandt, away until 4 Mar 2026)"
    }
    assert found.told == ["You stand in for Olive Brandt, who is away until Wed 4 Mar 2026."]
    assert whats(cast, nils) == []
    # who is away still finds it, should they look
    assert whats(cast, cast.owner) == WORK


def test_it_comes_back_by_itself_after_the_last_day_and_nothing_was_changed(cast, lead):
    owned_by(lead, cast.owner)
    AbsenceFactory(member=cast.owner, stand_in=cast.member, first_day=TODAY - DAY, last_day=TODAY)
    before = FollowUp.objects.values().get()
    for day, count in ((TODAY - DAY, 3), (TODAY, 3), (TODAY + DAY, 0), (TODAY - 2 * DAY, 0)):
        found = agenda(cast.team, day, cast.member)
        assert len(found.late + found.due + found.ahead) == count
    assert FollowUp.objects.values().get() == before


def test_work_of_the_absent_with_nobody_in_their_place_is_everybodys(cast, lead, nils):
    owned_by(lead, cast.owner)
    AbsenceFactory(member=cast.owner)
    for member in (cast.member, nils):
        assert whats(cast, member) == WORK
    (words,) = {item.owner for item in agenda(cast.team, TODAY, nils).due}
    assert words == "nobody (Olive Brandt is away until 3 Mar 2026)"


def test_where_the_stand_in_is_away_too_their_stand_in_has_both(cast, lead, nils):
    owned_by(lead, cast.owner)
    AbsenceFactory(member=cast.owner, stand_in=cast.member)
    AbsenceFactory(member=cast.member, stand_in=nils)
    FollowUpFactory(lead=lead, owner=cast.member, action="Call")
    assert whats(cast, nils) == ["Call", *WORK]


def test_two_who_stand_in_for_each_other_leave_it_to_everybody(cast, lead, nils):
    owned_by(lead, cast.owner)
    AbsenceFactory(member=cast.owner, stand_in=cast.member)
    AbsenceFactory(member=cast.member, stand_in=cast.owner)
    assert whats(cast, nils) == WORK


def test_a_session_stands_once_with_each_of_its_crew_and_for_whom(cast, lead, nils):
    session = SessionFactory(lead=lead)
    for member, part in ((cast.owner, "facilitator"), (cast.member, "support")):
        CrewPlace.objects.create(team=cast.team, session=session, member=member, part=part)
    AbsenceFactory(member=cast.owner, stand_in=nils)
    for member in (cast.member, nils):
        (item,) = agenda(cast.team, TODAY, member).due
        assert item.owner == (
            "Nils Ferrand (for Olive Brandt, away until 3 Mar 2026), Mateus Coelho"
        )


def test_everybodys_shows_each_thing_once_whoever_is_away(cast, lead):
    for member in (cast.owner, cast.member):
        owned_by(lead, member)
    AbsenceFactory(member=cast.owner, stand_in=cast.member)
    assert len(agenda(cast.team, TODAY).due) == 6


def test_an_absence_in_another_team_changes_nothing_here(cast, lead):
    owned_by(lead, cast.owner)
    there = Member.objects.create(team=cast.other_team, user=cast.owner.user)
    also = Member.objects.create(team=cast.other_team, user=cast.member.user)
    AbsenceFactory(member=there, stand_in=also)
    assert whats(cast, cast.member) == []
    assert agenda(cast.team, TODAY, cast.member).told == []


HERE, NOBODY = "here", "nobody"


def test_whoever_is_away_no_work_is_left_without_somebody_here_who_sees_it(cast, lead, nils):
    """Each piece of work is with its owner, with one who stands in, or with all who are here."""
    members = [cast.owner, cast.member, nils]
    for member in members:
        FollowUpFactory(lead=lead, owner=member)
    # each is here, or away with nobody or one of the others in their place
    for ways in product((HERE, NOBODY, *members), repeat=3):
        away = {m: way for m, way in zip(members, ways, strict=True) if way != HERE}
        if any(member == way for member, way in away.items()):
            continue
        Absence.objects.all().delete()
        for member, way in away.items():
            AbsenceFactory(member=member, stand_in=None if way == NOBODY else way)
        here = [member for member in members if member not in away]
        seen = Counter(item.row.owner_id for m in here for item in agenda(cast.team, TODAY, m).due)
        for member in members if here else []:
            assert seen[member.pk] in ({1, len(here)} if member in away else {1})


def test_the_start_page_says_who_is_away_and_what_that_makes_ones_own(cast, sign_in, lead):
    owned_by(lead, cast.owner)
    AbsenceFactory(member=cast.owner, stand_in=cast.member, last_day=TODAY + DAY)
    url = reverse("start", args=["harbour"])
    page = sign_in(cast.member).get(url).text
    assert "You stand in for Olive Brandt, who is away until Wed 4 Mar 2026." in page
    assert "Mateus Coelho (for Olive Brandt, away until 4 Mar 2026)" in page
    part = sign_in(cast.owner).get(url, headers={"HX-Request": "true"}).text
    assert "You are away until Wed 4 Mar 2026; Mateus Coelho does your work." in part
    with moment.stopped(NOW + 2 * DAY):
        assert "stand in" not in sign_in(cast.member).get(url).text


def test_the_buttons_of_a_stand_in_work_and_leave_the_owner(cast, sign_in, lead):
    row = FollowUpFactory(lead=lead, owner=cast.owner)
    AbsenceFactory(member=cast.owner, stand_in=cast.member)
    url = reverse("follow-up-done", args=["harbour", row.pk])
    assert sign_in(cast.member).post(url).status_code == 302
    row.refresh_from_db()
    assert (row.state, row.owner) == ("done", cast.owner)


def test_what_lies_later_is_not_read_where_nobody_asks_for_its_number(cast, lead):
    FollowUpFactory(lead=lead, due_on=TODAY + 14 * DAY)
    FollowUpFactory(lead=lead, due_on=TODAY + 15 * DAY)
    found = agenda(cast.team, TODAY, cast.member, count_later=False)
    assert (len(found.ahead), found.later) == (1, 0)
    assert agenda(cast.team, TODAY, cast.member).later == 1


def test_its_queries_are_eight_whoever_is_away(cast, lead, nils):
    owned_by(lead, cast.owner)
    expected = [
        "teams_absence",
        "followups_followup",  # counted
        "followups_followup",
        "discovery_deliverable",  # counted
        "discovery_deliverable",
        "discovery_discoverysession",  # counted
        "discovery_discoverysession",
        "discovery_crewplace",
    ]
    AbsenceFactory(member=cast.owner, stand_in=cast.member)
    AbsenceFactory(member=cast.member, stand_in=nils)
    assert tables(lambda: agenda(cast.team, TODAY, nils)) == expected
    assert tables(lambda: agenda(cast.team, TODAY, nils, count_later=False)) == expected
