"""Two people at the same moment: nothing doubles, and the stored standing knows of both."""

import threading
from collections.abc import Callable

from django.db import connection

from pipeline.leads.recording import record_decision, record_funding
from sessions.deliverables import mark_sent, waive
from sessions.holding import hold
from sessions.models import Deliverable, DiscoverySession
from sessions.standing import wrong_copies
from tests.conftest import NOW, TODAY


def at_once(*deeds: Callable[[], object]) -> list[BaseException]:
    """Do the deeds at the same moment, each on a connection of its own; return what failed."""
    together, failed = threading.Barrier(len(deeds)), []

    def run(deed: Callable[[], object]) -> None:
        try:
            together.wait()
            deed()
        except BaseException as error:
            failed.append(error)
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=[deed]) for deed in deeds]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return failed


def test_a_session_held_by_two_at_once_owes_one_takeaway(transactional_db, cast, booked, lead):
    failed = at_once(
        lambda: hold(session=booked, member=cast.owner, now=NOW),
        lambda: hold(session=booked, member=cast.member, now=NOW),
    )
    assert failed == []
    assert Deliverable.objects.count() == 1
    assert DiscoverySession.objects.get().version == booked.version + 1
    assert wrong_copies(cast.team, [lead.pk], TODAY) == []


def test_of_sent_and_waived_at_once_one_is_refused(transactional_db, cast, takeaway, lead):
    failed = at_once(
        lambda: mark_sent(
            deliverable=takeaway, member=cast.owner, now=NOW, sent_on=TODAY, sent_to="Ana"
        ),
        lambda: waive(deliverable=takeaway, member=cast.member, now=NOW, reason="Not wanted."),
    )
    assert [type(error).__name__ for error in failed] == ["Refused"]
    kept = Deliverable.objects.get()
    assert (kept.sent_on is None) != (kept.waived_on is None)
    assert wrong_copies(cast.team, [lead.pk], TODAY) == []


def test_facts_entered_at_once_are_all_in_the_stored_standing(
    transactional_db, cast, takeaway, lead
):
    who = {"lead": lead, "now": NOW}
    failed = at_once(
        lambda: record_decision(member=cast.owner, kind="no budget yet", day=TODAY, **who),
        lambda: record_funding(member=cast.member, arrived_on=TODAY, **who),
        lambda: mark_sent(
            deliverable=takeaway, member=cast.owner, now=NOW, sent_on=TODAY, sent_to="Ana"
        ),
    )
    assert failed == []
    lead.refresh_from_db()
    assert lead.standing == "funded"
    assert wrong_copies(cast.team, [lead.pk], TODAY) == []
