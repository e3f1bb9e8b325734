"""Decisions, proposals, funding and conversations: recorded once, mended, removed."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from pipeline.leads.models import Decision, Lead, Standing
from pipeline.leads.recording import (
    amend_decision,
    record_conversation,
    record_decision,
    record_funding,
    record_proposal,
    remove_decision,
    remove_funding,
    remove_proposal,
)
from pipeline.teams.models import Stale
from pipeline.teams.refused import Refused
from tests.conftest import NOW, TODAY
from tests.factories import DecisionFactory, LeadFactory

TOMORROW = TODAY + timedelta(days=1)


@pytest.fixture
def lead(cast) -> Lead:
    return LeadFactory(team=cast.team)


def standing(lead: Lead) -> tuple[str, date | None]:
    lead.refresh_from_db()
    return lead.standing, lead.standing_since


def decide(cast, lead, kind="no budget yet", day=TODAY, **rest) -> Decision:
    return record_decision(lead=lead, member=cast.member, now=NOW, kind=kind, day=day, **rest)


def test_each_fact_moves_the_standing_and_removing_it_moves_it_back(cast, lead):
    at_first = (Standing.ENQUIRY, lead.enquired_on)
    proposal = record_proposal(
        lead=lead, member=cast.member, now=NOW, sent_on=date(2026, 2, 2), fee=Decimal(900)
    )
    assert standing(lead) == (Standing.PROPOSAL, date(2026, 2, 2))

    decision = decide(cast, lead, day=date(2026, 2, 10))
    assert standing(lead) == (Standing.WAITING, date(2026, 2, 10))

    funding = record_funding(lead=lead, member=cast.member, now=NOW, arrived_on=TODAY)
    assert standing(lead) == (Standing.FUNDED, TODAY)

    remove_funding(funding=funding, now=NOW)
    assert standing(lead) == (Standing.WAITING, date(2026, 2, 10))
    remove_decision(decision=decision, now=NOW)
    assert standing(lead) == (Standing.PROPOSAL, date(2026, 2, 2))
    remove_proposal(proposal=proposal, now=NOW)
    assert standing(lead) == at_first


def test_who_recorded_it_and_when_is_kept(cast, lead):
    entry = record_conversation(
        lead=lead, member=cast.member, now=NOW, day=TODAY, channel="call", gist="Asked for dates."
    )

    assert (entry.recorded_by, entry.recorded_at, entry.team) == (cast.member, NOW, cast.team)


def test_a_fee_without_a_currency_takes_the_teams(cast, lead):
    engaged = decide(cast, lead, kind="engaged", fee=Decimal("12500.50"))
    named = decide(
        cast, lead, kind="engaged", day=date(2026, 2, 1), fee=Decimal(1), currency="GBP"
    )
    unknown = decide(cast, lead, kind="declined", currency="GBP")

    assert (engaged.currency, named.currency, unknown.currency) == ("EUR", "GBP", "")


def test_the_month_in_which_money_is_expected_is_kept_as_its_first_day(cast, lead):
    by_month = decide(cast, lead, funding_expected_on=date(2026, 9, 14), funding_from="a grant")
    by_day = decide(
        cast,
        lead,
        day=date(2026, 2, 1),
        funding_expected_on=date(2026, 9, 14),
        expected_by_month=False,
    )

    assert (by_month.funding_expected_on, by_month.funding_from) == (date(2026, 9, 1), "a grant")
    assert by_day.funding_expected_on == date(2026, 9, 14)


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"day": TOMORROW}, "day"),
        ({"day": date.max}, "day"),
        ({"fee": Decimal(5)}, "fee"),
        ({"kind": "engaged", "fee": Decimal(-5)}, "fee"),
        ({"kind": "engaged", "fee": Decimal(5), "currency": "eur"}, "currency"),
        ({"kind": "engaged", "funding_expected_on": date(2026, 9, 1)}, "funding_expected_on"),
        ({"kind": "declined", "funding_from": "a grant"}, "funding_from"),
    ],
)
def test_a_decision_that_cannot_be_is_refused_and_the_field_named(cast, lead, given, field):
    with pytest.raises(Refused) as refused:
        decide(cast, lead, **given)

    assert refused.value.field == field
    assert not Decision.objects.exists()


def test_the_same_decision_on_the_same_day_is_refused_and_another_kind_is_not(cast, lead):
    decide(cast, lead)

    with pytest.raises(Refused, match=r"“no budget yet” on 2026-03-03 is recorded already"):
        decide(cast, lead)

    decide(cast, lead, kind="gone quiet")
    assert Decision.objects.count() == 2


@pytest.mark.parametrize(
    ("record", "field"), [(record_proposal, "sent_on"), (record_funding, "arrived_on")]
)
def test_a_proposal_or_funding_is_recorded_once_a_day_and_never_ahead(cast, lead, record, field):
    def at(day: date) -> None:
        record(lead=lead, member=cast.member, now=NOW, **{field: day})

    at(TODAY)
    for day in (TODAY, TOMORROW):
        with pytest.raises(Refused) as refused:
            at(day)
        assert refused.value.field == field


def test_a_conversation_is_never_ahead(cast, lead):
    with pytest.raises(Refused):
        record_conversation(
            lead=lead, member=cast.member, now=NOW, day=TOMORROW, channel="call", gist="?"
        )


def test_correcting_a_decision_keeps_the_rules_and_moves_the_standing(cast, lead):
    decision = decide(cast, lead)
    DecisionFactory(lead=lead, kind="declined", day=date(2026, 1, 20))

    decision.kind, decision.day = "declined", date(2026, 1, 20)
    with pytest.raises(Refused):
        amend_decision(decision=decision, expected_version=1, now=NOW)

    decision.day = date(2026, 1, 21)
    amend_decision(decision=decision, expected_version=1, now=NOW)
    assert standing(lead) == (Standing.DECLINED, date(2026, 1, 21))


def test_the_second_of_two_who_correct_a_decision_is_told(cast, lead):
    decision = decide(cast, lead)
    mine, yours = Decision.objects.get(pk=decision.pk), Decision.objects.get(pk=decision.pk)
    mine.reason, yours.reason = "mine", "yours"

    amend_decision(decision=mine, expected_version=1, now=NOW)
    with pytest.raises(Stale):
        amend_decision(decision=yours, expected_version=1, now=NOW)

    decision.refresh_from_db()
    assert decision.reason == "mine"


def test_today_is_the_teams_local_day(cast):
    """At this hour it is still 2 March in New York."""
    early = NOW.replace(hour=3)
    lead = LeadFactory(team=cast.other_team)

    with pytest.raises(Refused, match="2026-03-02"):
        record_funding(lead=lead, member=cast.other_owner, now=early, arrived_on=TODAY)
