"""What is due, arranged by time, and whose it is."""

from datetime import UTC, datetime, timedelta

import pytest

from pipeline.followups.due import agenda
from sessions.models import CrewPlace
from tests.conftest import NOW, TODAY
from tests.factories import DeliverableFactory, FollowUpFactory, LeadFactory, SessionFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def lead(cast):
    return LeadFactory(team=cast.team)


def on(days):
    return TODAY + timedelta(days=days)


def whats(items):
    return [item.what for item in items]


def test_the_three_kinds_are_mixed_in_order_of_their_days(cast, lead):
    FollowUpFactory(lead=lead, action="Write", due_on=on(-1))
    DeliverableFactory(lead=lead, title="Map", due_on=on(-2))
    session = SessionFactory(lead=lead, day=on(-3))
    FollowUpFactory(lead=lead, action="Call", due_on=TODAY)
    DeliverableFactory(lead=lead, title="Chart", due_on=on(14))
    found = agenda(cast.team, TODAY)
    assert whats(found.late) == [f"Session: {session.format}", "Send: Map", "Write"]
    assert whats(found.due) == ["Call"]
    assert whats(found.ahead) == ["Send: Chart"]


def test_what_lies_more_than_fourteen_days_ahead_is_only_counted(cast, lead):
    FollowUpFactory(lead=lead, due_on=on(14))
    FollowUpFactory(lead=lead, due_on=on(15))
    DeliverableFactory(lead=lead, due_on=on(400))
    SessionFactory(lead=lead, day=on(15))
    found = agenda(cast.team, TODAY)
    assert (len(found.ahead), found.later) == (1, 3)


def test_what_is_closed_is_not_due(cast, lead):
    for state in ("done", "dropped", "ended"):
        FollowUpFactory(lead=lead, state=state, closed_on=TODAY)
    DeliverableFactory(lead=lead, sent_on=TODAY)
    DeliverableFactory(lead=lead, waived_on=TODAY)
    for state in ("held", "missed", "cancelled"):
        SessionFactory(lead=lead, state=state)
    assert not agenda(cast.team, TODAY)


def test_mine_is_what_i_own_and_what_nobody_owns(cast, lead):
    for owner, name in ((cast.member, "mine"), (None, "nobody's"), (cast.owner, "hers")):
        FollowUpFactory(lead=lead, action=name, owner=owner)
        DeliverableFactory(lead=lead, title=name, owner=owner)
    mine = SessionFactory(lead=lead, format__name="my format")
    hers = SessionFactory(lead=lead, format__name="her format")
    SessionFactory(lead=lead, format__name="nobody's format")
    CrewPlace.objects.create(team=cast.team, session=mine, member=cast.member, part="support")
    CrewPlace.objects.create(team=cast.team, session=mine, member=cast.owner, part="facilitator")
    CrewPlace.objects.create(team=cast.team, session=hers, member=cast.owner, part="facilitator")

    assert sorted(whats(agenda(cast.team, TODAY, cast.member).due)) == [
        "Send: mine",
        "Send: nobody's",
        "Session: my format",
        "Session: nobody's format",
        "mine",
        "nobody's",
    ]
    assert len(agenda(cast.team, TODAY).due) == 9


def test_another_teams_rows_and_those_of_merged_leads_are_not_due(cast, lead):
    FollowUpFactory(lead=LeadFactory(team=cast.other_team))
    FollowUpFactory(lead=LeadFactory(team=cast.team, merged_into=lead))
    assert not agenda(cast.team, TODAY)


def test_a_long_list_is_cut_off_at_its_far_end_and_says_how_much_is_left(cast, lead, monkeypatch):
    monkeypatch.setattr("pipeline.followups.due.SHOWN", 2)
    for days in (-3, -2, -1):
        FollowUpFactory(lead=lead, due_on=on(days))
    found = agenda(cast.team, TODAY)
    assert [item.day for item in found.late] == [on(-3), on(-2)]
    assert found.hidden == 1


def test_a_session_carries_its_hour(cast, lead):
    at = datetime(2026, 3, 3, 14, 0, tzinfo=UTC)
    SessionFactory(lead=lead, starts_at=at, recorded_at=NOW)
    (item,) = agenda(cast.team, TODAY).due
    assert item.starts_at == at
