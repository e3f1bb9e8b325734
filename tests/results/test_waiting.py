"""Whom to write to now, and when writing stops paying."""

from datetime import date, timedelta
from decimal import Decimal
from math import isnan

import pytest

from pipeline.results.figures.returns import delayed_return
from pipeline.results.figures.waiting import Stopping, waiting
from pipeline.results.questions.waiting import Order, expected_fees, waits_alike
from pipeline.stats.proportions import wilson_interval
from pipeline.teams.models import Team
from tests.factories import DecisionFactory, FundingFactory

from . import work
from .rows import AS_OF, INDEX, add_lead
from .work import DAY, cohort

START = date(2023, 6, 1)


def back(days: int) -> date:
    """The day so many days before the as-of day."""
    return AS_OF - days * DAY


@pytest.fixture
def record(cast):
    """Ten of twenty returned on day 100, after that four closed on day 500 and six on day 600."""
    for number in range(20):
        day, cause = (100, "engaged") if number < 10 else (500 if number < 14 else 600, "declined")
        work.waited(cast.team, day, cause, said=START)
    return cast


def figure(team, order=Order.WORTH, as_of=AS_OF, **paging):
    return waiting(cohort(team, as_of), order, **paging)


def names(found) -> list[str]:
    return [listed.lead.organisation for listed in found.leads]


def test_the_chance_knows_how_long_a_lead_has_waited(record):
    """20 of 21 waited so long as 50 days: 10 return within 90 more, 0 of 10 after 150 days."""
    work.waiting(record.team, back(50), organisation="Fifty")
    work.waiting(record.team, back(150), organisation="Long")
    found = {one.lead.organisation: one.chance for one in figure(record.team).leads}
    # At day 100 there are 21 at risk: the lead that has waited 50 days left before.
    assert found["Fifty"].estimate == pytest.approx(10 / 21)
    assert found["Fifty"].low < 10 / 21 < found["Fifty"].high
    assert found["Long"].estimate == 0
    assert found["Long"].low == 0
    assert found["Long"].high == pytest.approx(wilson_interval(0, 10)[1])


def test_the_chances_are_those_of_the_curve_of_delayed_return(record):
    lead = work.waiting(record.team, back(20), followed_since=back(10))
    found = figure(record.team)
    curve = delayed_return(cohort(record.team)).curve
    assert found.leads[0].lead.lead == lead.pk
    assert found.curve.incidence.tolist() == curve.incidence.tolist()
    assert found.curve.at_risk.tolist() == curve.at_risk.tolist()
    assert found.leads[0].chance.estimate == curve.conditional(1, 20, 90)[0]


def test_beyond_what_anybody_was_followed_it_cannot_be_told(record):
    work.waiting(record.team, back(601), expected_fee=Decimal(900))
    listed = figure(record.team).leads[0]
    curve = figure(record.team).curve
    assert isnan(curve.conditional(1, 601, 90)[0])
    assert (listed.chance.estimate, listed.worth) == (None, None)


def test_before_five_returned_no_chance_is_told(cast):
    for _ in range(4):
        work.waited(cast.team, 100, said=START)
    for _ in range(30):
        work.waited(cast.team, 500, "declined", said=START)
    work.waiting(cast.team, back(20))
    found = figure(cast.team)
    assert (found.told, found.returned) == (False, 4)
    assert found.leads[0].chance.estimate is None
    work.waited(cast.team, 100, said=START)
    assert figure(cast.team).leads[0].chance.estimate is not None


def test_where_nobody_returned_for_long_writing_has_stopped_paying(cast):
    """None of 80 within a year: no return is needed to know that there are few."""
    for _ in range(80):
        work.waited(cast.team, 400, "declined", said=START)
    assert figure(cast.team).stopping == Stopping(5, True, 0, None, 399, 0)


def test_few_leads_cannot_tell_when_writing_stops_paying(cast):
    for _ in range(20):
        work.waited(cast.team, 400, "declined", said=START)
    assert figure(cast.team).stopping == Stopping(5, False, None, None, 399, None)
    assert figure(cast.other_team).stopping == Stopping(5, False, None, None, None, None)


def test_those_who_wait_are_all_listed_and_nobody_else(record):
    """The list and the count of delayed return are the same leads."""
    work.waiting(record.team, back(20))
    quiet = work.waiting(record.team, back(30))
    DecisionFactory(lead=quiet, kind="gone quiet", day=back(10))
    add_lead(record.team)
    add_lead(record.team, ("no budget yet", AS_OF + DAY), held=AS_OF)
    found = figure(record.team)
    assert found.waiting == len(found.leads) == delayed_return(cohort(record.team)).waiting == 2


def test_worth_is_chance_times_fee_and_unknown_comes_last(record):
    work.waiting(record.team, back(150), organisation="No chance", expected_fee=Decimal(9000))
    work.waiting(record.team, back(50), organisation="Small", expected_fee=Decimal(100))
    work.waiting(record.team, back(50), organisation="Large", expected_fee=Decimal(3000))
    work.waiting(record.team, back(50), organisation="No fee noted")
    found = figure(record.team)
    assert names(found) == ["Large", "Small", "No chance", "No fee noted"]
    large = found.leads[0]
    assert large.worth == pytest.approx(Decimal(3000) * Decimal(large.chance.estimate), abs=1)
    assert [one.worth for one in found.leads[2:]] == [Decimal(0), None]


def test_worths_of_another_currency_are_not_mixed_in(record):
    for name, currency, fee in (
        ("Yen", "JPY", 900000),
        ("Euro", "EUR", 10),
        ("Dollar", "USD", 80000),
        ("More euro", "EUR", 20),
    ):
        work.waiting(
            record.team,
            back(50),
            organisation=name,
            currency=currency,
            expected_fee=Decimal(fee),
        )
    assert names(figure(record.team)) == ["More euro", "Euro", "Yen", "Dollar"]


def test_by_chance_the_likeliest_come_first_whatever_their_fee(record):
    work.waiting(record.team, back(150), organisation="Less", expected_fee=Decimal(90000))
    work.waiting(record.team, back(601), organisation="Cannot be told")
    work.waiting(record.team, back(50), organisation="More")
    assert names(figure(record.team, Order.CHANCE)) == ["More", "Less", "Cannot be told"]


def test_by_month_those_expected_first_come_first(cast):
    for name, month in (("Later", date(2026, 9, 1)), ("Sooner", date(2026, 2, 1)), ("?", None)):
        lead = work.waiting(cast.team, back(40), organisation=name)
        lead.decisions.update(funding_expected_on=month)
    found = figure(cast.team, Order.MONTH)
    assert names(found) == ["Sooner", "Later", "?"]
    assert [one.lead.expected_on for one in found.leads] == [
        date(2026, 2, 1),
        date(2026, 9, 1),
        None,
    ]


def test_the_newest_word_on_the_month_counts_as_of_the_day(cast):
    lead = work.waiting(cast.team, back(90))
    lead.decisions.update(funding_expected_on=date(2026, 1, 1))
    DecisionFactory(
        lead=lead,
        kind="no budget yet",
        day=back(30),
        funding_expected_on=date(2026, 5, 14),
        expected_by_month=False,
    )
    DecisionFactory(lead=lead, kind="no budget yet", day=back(10))
    told = figure(cast.team).leads[0].lead
    assert (told.expected_on, told.by_month) == (date(2026, 5, 14), False)
    before = figure(cast.team, as_of=back(31)).leads[0].lead
    assert (before.expected_on, before.by_month) == (date(2026, 1, 1), True)


def test_a_lead_is_told_with_its_session_its_owner_and_its_money(cast):
    lead = work.waiting(cast.team, back(90), owner=cast.member, organisation="Alder Mill")
    FundingFactory(lead=lead, arrived_on=back(5))
    listed = figure(cast.team).leads[0]
    assert listed.owner == "Mateus Coelho"
    assert listed.lead.session == lead.sessions.get().pk
    assert (listed.lead.held_on, listed.lead.no_budget_on) == (back(90), back(90))
    assert (listed.lead.waited, listed.lead.funded_on) == (90, back(5))


@pytest.mark.parametrize("order", Order)
def test_pages_together_are_the_whole_list(record, order):
    for number in range(7):
        work.waiting(record.team, back(10 + 20 * number), expected_fee=Decimal(100 * number))
    whole = names(figure(record.team, order))
    paged = [
        name
        for offset in range(0, 9, 3)
        for name in names(figure(record.team, order, offset=offset, limit=3))
    ]
    assert len(whole) == 7
    assert paged == whole


def test_writing_stops_paying_where_the_upper_limit_is_under_the_teams_threshold(cast):
    """100 waited; 20 returned on day 60 and nobody after: none of 80 is at most 4.6%."""
    for number in range(100):
        day, cause = (60, "engaged") if number < 20 else (400, "declined")
        work.waited(cast.team, day, cause, said=START)
    work.waiting(cast.team, back(60))
    work.waiting(cast.team, back(59))
    found = figure(cast.team).stopping
    assert wilson_interval(0, 80)[1] < 0.05
    assert (found.threshold, found.told, found.day, found.again) == (5, True, 60, None)
    assert found.past == 1

    Team.objects.filter(pk=cast.team.pk).update(least_chance=4)
    stricter = waiting(cohort(Team.objects.get(pk=cast.team.pk))).stopping
    assert (stricter.told, stricter.day, stricter.past) == (False, None, None)
    assert stricter.told_until == 400 - 1


def test_ten_times_as_many_leads_send_no_more_rows(record):
    rows = []
    for number in (2, 18):
        for _ in range(number):
            work.waiting(record.team, back(40), expected_fee=Decimal(70))
        rows.append((waits_alike(cohort(record.team)), expected_fees(cohort(record.team))))
    (few, few_fees), (many, many_fees) = rows
    assert len(few) == len(many) == 4
    assert len(few_fees) == len(many_fees) == 1
    assert (many_fees[0].leads, many_fees[0].total) == (20, Decimal(1400))


def test_it_asks_three_questions_however_many_wait(record, django_assert_num_queries):
    for number in range(5):
        work.waiting(record.team, back(20 + number), owner=record.member)
    # waits by day, the page of leads, their owners
    with django_assert_num_queries(3):
        figure(record.team)


def test_nobody_waits(cast):
    found = figure(cast.team)
    assert (found.waiting, found.leads, found.told) == (0, (), False)


def test_another_teams_leads_are_not_listed(record):
    work.waiting(record.other_team, INDEX + timedelta(days=1))
    assert figure(record.team).leads == ()
