"""What was given and what came back within three months, by the facts' own days."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from pipeline.leads.models import Decision
from pipeline.results.cohort import Cohort
from pipeline.results.quarter import Quarter, quarter, three_months_to
from tests.factories import DeliverableFactory, LeadFactory, SessionFactory

from .rows import add_lead

LAST = date(2026, 3, 31)
FIRST = date(2026, 1, 1)
BEFORE = FIRST - timedelta(days=1)
AFTER = LAST + timedelta(days=1)


@pytest.fixture
def told(cast):
    def ask() -> Quarter:
        return quarter(Cohort(cast.team, LAST))

    return ask


@pytest.mark.parametrize(
    ("last", "first"),
    [
        ("2026-03-31", "2026-01-01"),
        ("2026-02-28", "2025-12-01"),
        ("2024-02-29", "2023-12-01"),
        ("2026-05-30", "2026-03-01"),
        ("2026-01-15", "2025-10-16"),
        ("0001-02-01", "0001-01-01"),
        ("9999-12-31", "9999-10-01"),
    ],
)
def test_three_months_end_on_any_day(last, first):
    assert three_months_to(date.fromisoformat(last)) == date.fromisoformat(first)


@pytest.mark.parametrize("day", [BEFORE, FIRST, LAST, AFTER])
def test_only_what_is_dated_within_counts(cast, told, day):
    session = SessionFactory(lead=LeadFactory(team=cast.team), day=day, state="held")
    session.effort_before = 30
    session.save()
    DeliverableFactory(lead=session.lead, session=session, due_on=day, sent_on=day)
    add_lead(cast.team, ("engaged", day), held=date(2025, 6, 2))
    found = told()
    within = int(FIRST <= day <= LAST)
    assert (found.given.held, found.given.minutes, found.given.sent) == (
        within,
        30 * within,
        within,
    )
    assert found.back.engaged == within


def test_hours_that_nobody_noted_are_told_and_not_taken_for_none(cast, told):
    for effort in (None, 0, 45):
        session = SessionFactory(lead=LeadFactory(team=cast.team), day=LAST, state="held")
        session.effort_before, session.effort_during, session.effort_after = None, effort, None
        session.save()
    given = told().given
    assert (given.held, given.minutes, given.unnoted) == (3, 45, 1)


def test_missed_and_cancelled_and_booked_sessions_were_not_held(cast, told):
    for state in ("booked", "missed", "cancelled"):
        SessionFactory(lead=LeadFactory(team=cast.team), day=LAST, state=state)
    given = told().given
    assert (given.held, given.missed) == (0, 1)


def test_a_deliverable_is_on_time_up_to_its_due_day(cast, told):
    for late in (-1, 0, 1):
        DeliverableFactory(
            lead=LeadFactory(team=cast.team),
            due_on=date(2026, 2, 2),
            sent_on=date(2026, 2, 2) + timedelta(days=late),
        )
    given = told().given
    assert (given.sent, given.on_time) == (3, 2)


def test_a_return_is_told_apart_from_what_came_at_once(cast, told):
    add_lead(cast.team, ("engaged", LAST), held=date(2026, 3, 2))
    add_lead(cast.team, ("no budget yet", BEFORE), ("engaged", LAST), held=date(2025, 6, 2))
    add_lead(cast.team, ("no budget yet", LAST), held=date(2026, 3, 2))
    add_lead(cast.team, ("declined", FIRST), held=date(2025, 6, 2))
    back = told().back
    assert (back.engaged, back.returns, back.closed, back.said_no_budget) == (2, 1, 1, 1)


def test_fees_are_added_up_within_one_currency(cast, told):
    for waited, fee, currency in (
        (False, "100.10", "EUR"),
        (True, "200.20", "EUR"),
        (True, "300", "CAD"),
        (False, None, ""),
    ):
        said = [("no budget yet", BEFORE)] if waited else []
        lead = add_lead(cast.team, *said, ("engaged", LAST), held=date(2025, 6, 2))
        Decision.objects.filter(lead=lead, kind="engaged").update(
            fee=None if fee is None else Decimal(fee), currency=currency
        )
    back = told().back
    assert back.fees == (("CAD", Decimal("300")), ("EUR", Decimal("300.30")))
    assert back.return_fees == (("CAD", Decimal("300")), ("EUR", Decimal("200.20")))
    assert back.without_fee == 1


def test_another_teams_quarter_is_its_own(cast, told):
    SessionFactory(lead=LeadFactory(team=cast.other_team), day=LAST, state="held")
    add_lead(cast.other_team, ("engaged", LAST), held=date(2025, 6, 2))
    assert told().given.held == 0
    assert told().back.engaged == 0


def test_it_takes_three_queries_whatever_the_number_of_leads(cast, told):
    for _ in range(3):
        add_lead(cast.team, ("engaged", LAST), held=date(2026, 3, 2))
    with CaptureQueriesContext(connection) as caught:
        told()
    assert len(caught) == 3
