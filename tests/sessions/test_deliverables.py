"""Sent, waived, owed again: each once, and said by whom."""

from datetime import date, timedelta

import pytest

from pipeline.teams.models import Stale
from pipeline.teams.refused import Refused
from sessions.deliverables import change, mark_sent, owe_again, waive
from sessions.models import Deliverable
from tests.conftest import NOW, TODAY
from tests.factories import DeliverableFactory

LATER = NOW + timedelta(days=2)
ANA = "ana@lead.example"


def test_a_sent_deliverable_is_owed_no_more(cast, lead, takeaway):
    sent = mark_sent(deliverable=takeaway, member=cast.member, now=NOW, sent_on=TODAY, sent_to=ANA)
    assert (sent.owed, sent.marked_by) == (False, cast.member)
    lead.refresh_from_db()
    assert lead.standing == "session held"
    assert not Deliverable.objects.for_team(cast.team).owed().exists()


def test_sent_twice_changes_nothing_and_tells_who_did_it_first(cast, takeaway):
    words = {"deliverable": takeaway, "sent_on": TODAY, "sent_to": ANA}
    first = mark_sent(member=cast.owner, now=NOW, **words)
    second = mark_sent(member=cast.member, now=LATER, **words)
    assert (second.marked_by, second.version) == (cast.owner, first.version)


def test_sent_with_other_words_is_refused_and_names_the_first(cast, takeaway):
    mark_sent(deliverable=takeaway, member=cast.owner, now=NOW, sent_on=TODAY, sent_to=ANA)
    with pytest.raises(Refused, match="already marked sent by Olive Brandt"):
        mark_sent(deliverable=takeaway, member=cast.member, now=LATER, sent_on=TODAY, sent_to="Bo")
    takeaway.refresh_from_db()
    assert takeaway.sent_to == ANA


@pytest.mark.parametrize(
    ("day", "to", "field"),
    [
        (TODAY + timedelta(days=1), ANA, "sent_on"),
        (TODAY - timedelta(days=1), ANA, "sent_on"),
        (TODAY, "  ", "sent_to"),
    ],
)
def test_it_is_sent_to_somebody_not_ahead_and_not_before_the_session(
    cast, takeaway, day, to, field
):
    with pytest.raises(Refused) as refused:
        mark_sent(deliverable=takeaway, member=cast.owner, now=NOW, sent_on=day, sent_to=to)
    assert refused.value.field == field


def test_of_an_unknown_session_any_day_up_to_today_is_taken(cast, lead):
    old = DeliverableFactory(lead=lead)
    day = TODAY - timedelta(days=400)
    sent = mark_sent(deliverable=old, member=cast.owner, now=NOW, sent_on=day, sent_to=ANA)
    assert sent.sent_on == day


def test_a_waiver_needs_a_reason_and_is_noted_once(cast, lead, takeaway):
    with pytest.raises(Refused) as refused:
        waive(deliverable=takeaway, member=cast.owner, now=NOW, reason=" ")
    assert refused.value.field == "reason"
    waive(deliverable=takeaway, member=cast.owner, now=NOW, reason="They asked for none.")
    again = waive(
        deliverable=takeaway, member=cast.member, now=LATER, reason="They asked for none."
    )
    assert (again.waived_on, again.marked_by) == (TODAY, cast.owner)
    lead.refresh_from_db()
    assert lead.standing == "session held"


def test_what_was_waived_is_not_sent_and_what_was_sent_not_waived(cast, takeaway):
    waive(deliverable=takeaway, member=cast.owner, now=NOW, reason="They asked for none.")
    with pytest.raises(Refused, match="already waived by Olive Brandt"):
        mark_sent(deliverable=takeaway, member=cast.member, now=NOW, sent_on=TODAY, sent_to=ANA)
    owe_again(deliverable=takeaway, member=cast.owner, now=NOW)
    mark_sent(deliverable=takeaway, member=cast.member, now=NOW, sent_on=TODAY, sent_to=ANA)
    with pytest.raises(Refused, match="already marked sent"):
        waive(deliverable=takeaway, member=cast.owner, now=NOW, reason="Too late.")


def test_undoing_owes_it_again_once(cast, lead, takeaway):
    mark_sent(deliverable=takeaway, member=cast.owner, now=NOW, sent_on=TODAY, sent_to=ANA)
    owed = owe_again(deliverable=takeaway, member=cast.member, now=NOW)
    assert (owed.owed, owed.sent_to, owed.marked_by) == (True, "", None)
    assert owe_again(deliverable=takeaway, member=cast.member, now=NOW).version == owed.version
    lead.refresh_from_db()
    assert lead.standing == "takeaway owed"


def test_a_change_at_an_old_version_is_stale(cast, takeaway):
    words = {"title": "Takeaway", "owner": cast.owner, "link": "", "expected_version": 1}
    change(deliverable=takeaway, now=NOW, due_on=date(2026, 3, 9), **words)
    with pytest.raises(Stale):
        change(deliverable=takeaway, now=NOW, due_on=date(2026, 3, 10), **words)
    takeaway.refresh_from_db()
    assert takeaway.due_on == date(2026, 3, 9)


def test_two_deliverables_of_a_session_have_different_titles(cast, takeaway):
    other = DeliverableFactory(lead=takeaway.lead, session=takeaway.session, title="Outline")
    with pytest.raises(Refused) as refused:
        change(
            deliverable=other,
            now=NOW,
            title="Takeaway",
            due_on=TODAY,
            owner=None,
            link="",
        )
    assert refused.value.field == "title"


@pytest.mark.parametrize("link", ["javascript:alert(1)", "ftp://files.example/a", "data:,x"])
def test_a_link_is_one_of_the_web(cast, takeaway, link):
    with pytest.raises(Refused) as refused:
        change(
            deliverable=takeaway, now=NOW, title="Takeaway", due_on=TODAY, owner=None, link=link
        )
    assert refused.value.field == "link"
