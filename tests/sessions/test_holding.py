"""A session that is held owes what its format promised; holding twice doubles nothing."""

from datetime import UTC, date, datetime, timedelta

import pytest

from pipeline.teams.models import Role, Stale
from pipeline.teams.refused import Refused
from sessions.booking import book, cancel, mark_missed, put_back
from sessions.deliverables import mark_sent, waive
from sessions.holding import hold
from sessions.models import Deliverable, Part, Promise, State
from tests.conftest import NOW, TODAY
from tests.factories import DeliverableFactory

LATER = NOW + timedelta(minutes=5)


def test_holding_creates_what_the_format_promises_due_in_working_days(cast, booked, lead):
    held = hold(session=booked, member=cast.owner, now=NOW)

    assert held.state == State.HELD
    owed = Deliverable.objects.get(session=booked)
    # Three working days after Tuesday 3 March 2026 in Portugal, which keeps no holiday that week.
    assert (owed.title, owed.due_on, owed.lead) == ("Takeaway", date(2026, 3, 6), lead)
    lead.refresh_from_db()
    assert (lead.standing, lead.index_day, lead.index_format) == (
        "takeaway owed",
        TODAY,
        booked.format,
    )


def test_due_days_skip_weekends_and_public_holidays(cast, lead, hour):
    # Good Friday was on 3 April 2026 (a public holiday in Portugal; computed by the holidays
    # library, and the date of Easter Sunday 2026, 5 April, from memory).
    thursday = datetime(2026, 4, 2, 9, 0, tzinfo=UTC)
    session = book(
        lead=lead,
        member=cast.owner,
        now=NOW,
        format=hour,
        starts_at=thursday,
        minutes=60,
        crew={Part.FACILITATOR: [cast.owner]},
    )
    hold(session=session, member=cast.owner, now=thursday + timedelta(hours=2))
    # Monday, Tuesday, Wednesday
    assert Deliverable.objects.get(session=session).due_on == date(2026, 4, 8)


def test_the_note_taker_owns_what_was_promised(cast, booked):
    hold(session=booked, member=cast.owner, now=NOW)
    assert Deliverable.objects.get().owner == cast.member


def test_without_a_note_taker_the_facilitator_owns_it(cast, booked):
    booked.crew.filter(part=Part.NOTE_TAKER).delete()
    hold(session=booked, member=cast.member, now=NOW)
    assert Deliverable.objects.get().owner == cast.owner


def test_a_note_taker_who_only_reads_by_now_owns_nothing(cast, booked):
    cast.member.role = Role.READER
    cast.member.save()
    hold(session=booked, member=cast.owner, now=NOW)
    assert Deliverable.objects.get().owner == cast.owner


def test_a_note_taker_who_left_owns_nothing(cast, booked):
    cast.member.left_on = TODAY
    cast.member.save()
    hold(session=booked, member=cast.owner, now=NOW)
    assert Deliverable.objects.get().owner == cast.owner


def test_without_a_crew_whoever_marks_it_held_owns_it(cast, booked):
    booked.crew.all().delete()
    hold(session=booked, member=cast.member, now=NOW)
    assert Deliverable.objects.get().owner == cast.member


def test_held_twice_doubles_nothing_and_tells_who_did_it_first(cast, booked):
    first = hold(session=booked, member=cast.owner, now=NOW, attendee_count=3)
    second = hold(session=booked, member=cast.member, now=LATER, attendee_count=3)

    assert Deliverable.objects.count() == 1
    assert (second.marked_by, second.marked_at) == (cast.owner, NOW)
    assert second.version == first.version


def test_held_from_an_old_page_with_other_figures_is_stale_and_changes_nothing(cast, booked):
    opened = booked.version
    hold(session=booked, member=cast.owner, now=NOW, expected_version=opened, effort_during=60)
    with pytest.raises(Stale):
        hold(
            session=booked,
            member=cast.member,
            now=LATER,
            expected_version=opened,
            effort_during=75,
        )
    booked.refresh_from_db()
    assert booked.effort_during == 60
    assert Deliverable.objects.count() == 1


def test_figures_may_be_added_to_a_held_session_at_its_version(cast, booked):
    held = hold(session=booked, member=cast.owner, now=NOW)
    told = hold(
        session=held,
        member=cast.member,
        now=LATER,
        expected_version=held.version,
        effort_after=90,
    )
    assert told.effort == 90
    assert (told.marked_by, Deliverable.objects.count()) == (cast.owner, 1)


def test_a_session_is_not_held_before_its_day(cast, lead, hour):
    tomorrow = book(
        lead=lead,
        member=cast.owner,
        now=NOW,
        format=hour,
        starts_at=NOW + timedelta(days=1),
        minutes=60,
        crew={Part.FACILITATOR: [cast.owner]},
    )
    with pytest.raises(Refused, match="ahead"):
        hold(session=tomorrow, member=cast.owner, now=NOW)
    with pytest.raises(Refused, match="ahead"):
        mark_missed(session=tomorrow, member=cast.owner, now=NOW)
    assert not Deliverable.objects.exists()


def test_held_by_mistake_goes_back_and_takes_its_promises_along(cast, booked, lead):
    hold(session=booked, member=cast.owner, now=NOW)
    back = put_back(session=booked, member=cast.owner, now=LATER)

    assert (back.state, back.marked_by) == (State.BOOKED, None)
    assert not Deliverable.objects.exists()
    lead.refresh_from_db()
    assert (lead.standing, lead.index_day, lead.index_format) == ("session booked", None, None)


def test_held_by_mistake_may_turn_out_missed(cast, booked):
    hold(session=booked, member=cast.owner, now=NOW)
    assert mark_missed(session=booked, member=cast.owner, now=LATER).state == State.MISSED
    assert not Deliverable.objects.exists()


@pytest.mark.parametrize("undo", [put_back, mark_missed])
def test_a_session_of_which_something_was_sent_waived_or_made_stays_held(cast, takeaway, undo):
    session = takeaway.session

    def refused() -> None:
        with pytest.raises(Refused, match="Takeaway"):
            undo(session=session, member=cast.owner, now=LATER)
        session.refresh_from_db()
        assert session.state == State.HELD

    Deliverable.objects.update(link="https://files.example/1")
    refused()
    Deliverable.objects.update(link="")
    mark_sent(
        deliverable=takeaway, member=cast.owner, now=NOW, sent_on=TODAY, sent_to="ana@lead.example"
    )
    refused()
    Deliverable.objects.update(sent_on=None)
    waive(deliverable=takeaway, member=cast.owner, now=NOW, reason="They asked for none.")
    refused()


def test_a_promise_that_is_there_already_keeps_its_day(cast, booked):
    DeliverableFactory(
        lead=booked.lead, session=booked, title="Takeaway", due_on=date(2026, 3, 20)
    )
    hold(session=booked, member=cast.owner, now=NOW)
    assert Deliverable.objects.get().due_on == date(2026, 3, 20)


def test_a_promise_within_no_working_days_is_due_on_the_day_itself(cast, booked):
    Promise.objects.update(working_days=0)
    hold(session=booked, member=cast.owner, now=NOW)
    assert Deliverable.objects.get().due_on == TODAY


def test_a_cancelled_session_is_not_held(cast, booked):
    cancel(session=booked, member=cast.owner, now=NOW, reason="They moved house.")
    with pytest.raises(Refused, match="cancelled"):
        hold(session=booked, member=cast.owner, now=LATER)


def test_a_missed_session_may_turn_out_held(cast, booked):
    mark_missed(session=booked, member=cast.owner, now=NOW)
    assert hold(session=booked, member=cast.owner, now=LATER).state == State.HELD
    assert Deliverable.objects.count() == 1
