"""Done, put off, given, dropped, added by hand, taken back: and the second click."""

from datetime import date, timedelta

import pytest

from pipeline.followups import actions
from pipeline.followups.models import FollowUp
from pipeline.followups.plans import ensure_plan
from pipeline.leads.settle import settle
from pipeline.teams.models import Stale
from pipeline.teams.refused import Refused
from tests.conftest import NOW, TODAY
from tests.factories import DecisionFactory, FollowUpFactory, LeadFactory, ProposalFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def row(cast):
    return FollowUpFactory(lead=LeadFactory(team=cast.team), owner=cast.member)


def test_the_second_click_on_done_changes_nothing_and_tells_who_was_first(cast, row):
    assert actions.mark_done(follow_up=row, member=cast.member, now=NOW)[1] is True
    later = NOW + timedelta(days=1)
    stored, did = actions.mark_done(follow_up=row, member=cast.owner, now=later)
    assert did is False
    assert actions.what_became(stored) == "done by Mateus Coelho on 3 Mar 2026"


def test_a_drop_needs_a_reason_and_keeps_it(cast, row):
    with pytest.raises(Refused) as refused:
        actions.drop(follow_up=row, member=cast.member, now=NOW, reason="  ")
    assert refused.value.field == "reason"
    stored, did = actions.drop(
        follow_up=row, member=cast.member, now=NOW, reason=" They moved away. "
    )
    assert did
    assert (stored.state, stored.reason) == ("dropped", "They moved away.")


def test_what_was_done_is_not_dropped_afterwards(cast, row):
    actions.mark_done(follow_up=row, member=cast.member, now=NOW)
    stored, did = actions.drop(follow_up=row, member=cast.owner, now=NOW, reason="Why not")
    assert (stored.state, stored.reason, did) == ("done", "", False)


def test_it_is_put_off_to_a_working_day_ahead(row):
    # 4 April 2026 is the Saturday between Good Friday and Easter.
    stored, did = actions.put_off(
        follow_up=row, now=NOW, until=date(2026, 4, 4), expected_version=1
    )
    assert (stored.due_on, did) == (date(2026, 4, 6), True)


@pytest.mark.parametrize("day", [TODAY, TODAY - timedelta(days=1), date.min])
def test_it_cannot_be_put_off_to_a_day_that_is_not_ahead(row, day):
    with pytest.raises(Refused) as refused:
        actions.put_off(follow_up=row, now=NOW, until=day, expected_version=1)
    assert refused.value.field == "until"


def test_to_put_off_twice_until_one_day_is_to_put_off_once(row):
    for expected in (True, False):
        _, did = actions.put_off(
            follow_up=row, now=NOW, until=date(2026, 3, 10), expected_version=1
        )
        assert did is expected
    row.refresh_from_db()
    assert row.version == 2


def test_who_puts_off_what_somebody_else_put_off_meanwhile_is_told(row):
    actions.put_off(follow_up=row, now=NOW, until=date(2026, 3, 10), expected_version=1)
    with pytest.raises(Refused, match=r"due on 10 Mar 2026 now"):
        actions.put_off(follow_up=row, now=NOW, until=date(2026, 3, 12), expected_version=1)


def test_it_is_given_to_a_member_who_writes(cast, row):
    stored, did = actions.give(follow_up=row, to=cast.owner, expected_version=1)
    assert (stored.owner, did) == (cast.owner, True)
    stored, did = actions.give(follow_up=row, to=cast.owner, expected_version=1)
    assert did is False
    with pytest.raises(Refused, match=r"Olive Brandt has it now"):
        actions.give(follow_up=row, to=cast.member, expected_version=1)


def test_neither_a_reader_nor_another_teams_owner_is_given_anything(cast, row):
    for to in (cast.reader, cast.other_owner):
        with pytest.raises(Refused) as refused:
            actions.give(follow_up=row, to=to, expected_version=1)
        assert refused.value.field == "owner"


def test_one_added_by_hand_moves_to_a_working_day(cast, row):
    made = actions.add(
        lead=row.lead, now=NOW, action=" Send the map ", due_on=date(2026, 3, 7), owner=None
    )
    assert (made.action, made.due_on, made.planned_on) == (
        "Send the map",
        date(2026, 3, 9),
        None,
    )


@pytest.mark.parametrize(
    ("wrong", "field"),
    [({"due_on": TODAY - timedelta(days=1)}, "due_on"), ({"action": " "}, "action")],
)
def test_one_added_by_hand_says_what_and_lies_ahead(row, wrong, field):
    right = {"action": "Call", "due_on": TODAY, "owner": None}
    with pytest.raises(Refused) as refused:
        actions.add(lead=row.lead, now=NOW, **{**right, **wrong})
    assert refused.value.field == field


def test_done_and_dropped_ones_are_opened_again(cast, row):
    actions.drop(follow_up=row, member=cast.member, now=NOW, reason="A mistake")
    stored, did = actions.undo(follow_up=row, now=NOW)
    assert did
    assert (stored.state, stored.reason, stored.closed_on, stored.closed_by) == (
        "open",
        "",
        None,
        None,
    )
    assert actions.undo(follow_up=row, now=NOW)[1] is False


def test_one_that_nothing_asks_for_any_more_ends_when_it_is_opened_again(cast):
    ensure_plan(cast.team)
    lead = LeadFactory(team=cast.team)
    ProposalFactory(lead=lead)
    settle(cast.team, [lead.pk], now=NOW)
    row = FollowUp.objects.get()
    actions.mark_done(follow_up=row, member=cast.member, now=NOW)
    DecisionFactory(lead=lead, kind="engaged")
    settle(cast.team, [lead.pk], now=NOW)
    stored, did = actions.undo(follow_up=row, now=NOW)
    assert (stored.state, stored.reason, did) == ("ended", "engaged on 3 Mar 2026", True)


def test_what_ended_by_itself_is_not_opened_by_hand(cast, row):
    FollowUp.objects.update(state="ended", closed_on=TODAY, reason="engaged on 3 Mar 2026")
    stored, did = actions.undo(follow_up=row, now=NOW)
    assert (stored.state, did) == ("ended", False)


def test_of_two_who_edit_the_second_is_told(row):
    first, second = FollowUp.objects.get(), FollowUp.objects.get()
    first.action = "Call"
    actions.change(follow_up=first, now=NOW, expected_version=1)
    second.action = "Write"
    with pytest.raises(Stale):
        actions.change(follow_up=second, now=NOW, expected_version=1)


def test_a_closed_one_is_not_edited(cast, row):
    actions.mark_done(follow_up=row, member=cast.member, now=NOW)
    row.refresh_from_db()
    row.action = "Call"
    with pytest.raises(Refused, match="done by Mateus Coelho"):
        actions.change(follow_up=row, now=NOW, expected_version=row.version)


def test_a_late_one_may_be_edited_without_moving_its_day(row):
    FollowUp.objects.update(due_on=date(2026, 2, 2))
    row.refresh_from_db()
    row.action = "Call"
    actions.change(follow_up=row, now=NOW, expected_version=1)
    row.refresh_from_db()
    assert (row.action, row.due_on) == ("Call", date(2026, 2, 2))
