"""A fact whose day lay ahead when it was entered counts from its day on."""

from datetime import date, timedelta

import pytest
from django.db import transaction

from pipeline.leads.settle import settle
from sessions.catching_up import catch_up
from sessions.models import CaughtUp
from tests.conftest import NOW, TODAY
from tests.factories import (
    DecisionFactory,
    DeliverableFactory,
    FundingFactory,
    LeadFactory,
    ProposalFactory,
    SessionFactory,
)

AHEAD = TODAY + timedelta(days=5)


def entered(lead):
    """Settle the lead as the service that entered its facts would."""
    with transaction.atomic():
        settle(lead.team, [lead.pk], now=NOW)


def after(days: int):
    return NOW + timedelta(days=days)


def standing(lead) -> str:
    lead.refresh_from_db()
    return lead.standing


def test_money_that_arrives_later_counts_on_its_day_and_not_before(cast, lead):
    catch_up(cast.team, NOW)
    DecisionFactory(lead=lead, kind="no budget yet")
    FundingFactory(lead=lead, arrived_on=AHEAD)
    entered(lead)
    assert catch_up(cast.team, after(4)) == 0
    assert standing(lead) == "waiting for funding"
    assert catch_up(cast.team, after(5)) == 1
    assert standing(lead) == "funded"
    assert lead.standing_since == AHEAD


@pytest.mark.parametrize(
    ("make", "before", "then"),
    [
        (lambda lead: ProposalFactory(lead=lead, sent_on=AHEAD), "enquiry", "proposal out"),
        (lambda lead: DecisionFactory(lead=lead, kind="engaged", day=AHEAD), "enquiry", "engaged"),
        (
            lambda lead: SessionFactory(lead=lead, state="held", day=AHEAD),
            "enquiry",
            "session held",
        ),
        (
            lambda lead: DeliverableFactory(
                lead=lead, session=SessionFactory(lead=lead, state="held"), sent_on=AHEAD
            ),
            "takeaway owed",
            "session held",
        ),
        (
            lambda lead: DeliverableFactory(
                lead=lead, session=SessionFactory(lead=lead, state="held"), waived_on=AHEAD
            ),
            "takeaway owed",
            "session held",
        ),
    ],
)
def test_each_fact_that_lay_ahead_is_settled_when_its_day_comes(cast, lead, make, before, then):
    catch_up(cast.team, NOW)
    make(lead)
    entered(lead)
    assert standing(lead) == before
    catch_up(cast.team, after(4))
    assert standing(lead) == before
    catch_up(cast.team, after(5))
    assert standing(lead) == then


def test_no_day_is_left_out_however_long_nobody_called(cast, lead):
    catch_up(cast.team, NOW)
    ProposalFactory(lead=lead, sent_on=AHEAD)
    entered(lead)
    assert catch_up(cast.team, after(400)) == 1
    assert standing(lead) == "proposal out"


def test_a_second_call_on_a_day_asks_one_question(cast, lead, django_assert_num_queries):
    ProposalFactory(lead=lead)
    assert catch_up(cast.team, NOW) == 1
    with django_assert_num_queries(1):
        assert catch_up(cast.team, after(0)) == 0
    assert CaughtUp.objects.get(team=cast.team).day == TODAY


def test_the_day_is_each_teams_own(cast):
    # At 03:30 in UTC on the 4th it is still the 3rd in New York.
    lead = LeadFactory(team=cast.other_team)
    ProposalFactory(lead=lead, sent_on=date(2026, 3, 4))
    entered(lead)
    early = NOW.replace(day=4, hour=3, minute=30)
    catch_up(cast.other_team, early)
    assert standing(lead) == "enquiry"
    catch_up(cast.other_team, early + timedelta(hours=2))
    assert standing(lead) == "proposal out"


def test_another_teams_facts_are_not_touched(cast, lead):
    ProposalFactory(lead=lead)
    assert catch_up(cast.other_team, NOW) == 0
    assert standing(lead) == "enquiry"
