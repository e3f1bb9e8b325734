"""The stored standing equals the computed one after whatever was done."""

from __future__ import annotations

from datetime import timedelta

from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.leads.models import DecisionKind, Lead, Standing
from pipeline.leads.recording import record_decision, record_funding, record_proposal
from pipeline.leads.settle import settle
from pipeline.teams.models import Stale
from pipeline.teams.refused import Refused
from sessions import standing
from sessions.booking import amend, book, cancel, mark_missed, put_back
from sessions.deliverables import mark_sent, owe_again, waive
from sessions.holding import hold
from sessions.models import Deliverable, DiscoverySession, Part
from sessions.standing import wrong_copies
from tests.conftest import NOW
from tests.factories import DecisionFactory, DeliverableFactory, SessionFactory

days = st.integers(-20, 20)
steps = st.one_of(
    st.tuples(st.just("book"), days),
    st.tuples(st.sampled_from(["hold", "miss", "cancel", "back", "waive", "owe"]), days),
    st.tuples(st.sampled_from(["move", "send", "propose", "fund"]), days),
    st.tuples(st.sampled_from(list(DecisionKind)), days),
)


def run(step, cast, lead, hour, now) -> None:
    """Do one step with the newest session or deliverable of the lead."""
    what, offset = step
    who = {"member": cast.member, "now": now}
    today = cast.team.today(now)
    session = DiscoverySession.objects.filter(lead=lead).last()
    deliverable = Deliverable.objects.filter(lead=lead).last()
    day = today - timedelta(days=abs(offset))
    if what == "book":
        book(
            lead=lead,
            format=hour,
            starts_at=now + timedelta(days=offset),
            minutes=60,
            crew={Part.FACILITATOR: [cast.owner]},
            **who,
        )
    elif what == "propose":
        record_proposal(lead=lead, sent_on=day, **who)
    elif what == "fund":
        record_funding(lead=lead, arrived_on=day, **who)
    elif isinstance(what, DecisionKind):
        record_decision(lead=lead, kind=what, day=day, reason="so they said", **who)
    elif session and what in ("hold", "miss", "cancel", "back"):
        service = {"hold": hold, "miss": mark_missed, "cancel": cancel, "back": put_back}[what]
        service(session=session, **who)
    elif session and what == "move":
        amend(session=session, starts_at=now + timedelta(days=offset), **who)
    elif deliverable and what == "send":
        mark_sent(deliverable=deliverable, sent_on=day, sent_to="ana@lead.example", **who)
    elif deliverable and what == "waive":
        waive(deliverable=deliverable, reason="They asked for none.", **who)
    elif deliverable and what == "owe":
        owe_again(deliverable=deliverable, **who)


@settings(
    max_examples=25,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(st.lists(st.tuples(steps, st.integers(0, 3)), min_size=3, max_size=10))
def test_after_any_sequence_of_services_the_copy_equals_the_function(cast, lead, hour, sequence):
    with transaction.atomic():
        now = NOW
        settle(cast.team, [lead.pk], now=now)
        for step, wait in sequence:
            now += timedelta(days=wait)
            try:
                with transaction.atomic():
                    run(step, cast, lead, hour, now)
            except (Refused, Stale):
                pass
            assert wrong_copies(cast.team, [lead.pk], cast.team.today(now)) == []
        transaction.set_rollback(True)


def test_settling_twice_changes_nothing_and_no_version(cast, lead):
    SessionFactory(lead=lead, state="held")
    DecisionFactory(lead=lead, kind="no budget yet")
    with transaction.atomic():
        settle(cast.team, [lead.pk], now=NOW)
    first = Lead.objects.values().get(pk=lead.pk)
    assert first["standing"] == Standing.WAITING
    with transaction.atomic():
        settle(cast.team, [lead.pk], now=NOW)
    assert Lead.objects.values().get(pk=lead.pk) == first
    assert first["version"] == lead.version


def test_settling_many_leads_takes_no_more_queries_than_one(cast, lead, django_assert_num_queries):
    many = [lead]
    for n in range(6):
        other = Lead.objects.create(
            team=cast.team, organisation=f"Other {n}", currency="EUR", created_at=NOW
        )
        session = SessionFactory(lead=other, state="held")
        DeliverableFactory(lead=other, session=session)
        many.append(other)
    # savepoint, leads, decisions, fundings, proposals, sessions, deliverables, update, release
    for leads in (many[:2], many[2:]):
        with django_assert_num_queries(9):
            standing.settle(cast.team, [row.pk for row in leads], NOW)


def test_another_teams_leads_are_left_alone(cast, lead):
    DecisionFactory(lead=lead, kind="engaged")
    with transaction.atomic():
        settle(cast.other_team, [lead.pk], now=NOW)
    lead.refresh_from_db()
    assert lead.standing == Standing.ENQUIRY
