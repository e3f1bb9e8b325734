"""Whether the free hours pay: hours and fees of the same leads, each in its own currency."""

from datetime import date
from decimal import Decimal

import pytest

from pipeline.results.figures.effort import Ratio, Week, effort, of_days, weeks_to
from pipeline.results.questions.effort import DayOfEffort, effort_by_day
from tests.factories import DecisionFactory, ExchangeRateFactory, SessionFactory

from .rows import INDEX, add_lead
from .work import DAY, cohort, engaged, give


def figure(team, **filters):
    return effort(cohort(team, **filters))


def test_hours_are_those_noted_on_held_sessions(cast):
    give(add_lead(cast.team), 30, 60, 90)
    lead = give(add_lead(cast.team), None, 60, None)
    SessionFactory(lead=lead, day=INDEX + 9 * DAY, state="held", effort_unsplit=60)
    SessionFactory(lead=lead, day=INDEX + 9 * DAY, state="missed", effort_before=500)
    found = figure(cast.team)
    assert (found.sessions, found.noted, found.minutes) == (3, 3, 300)
    assert found.hours_a_session.estimate == pytest.approx(5 / 3)


def test_a_lead_with_a_session_that_nobody_noted_is_in_hours_a_session_alone(cast):
    give(engaged(cast.team, 1000), 60)
    half = give(engaged(cast.team, 5000), 120)
    SessionFactory(lead=half, day=INDEX + DAY, state="held")
    found = figure(cast.team)
    assert (found.leads, found.complete, found.sessions, found.noted) == (2, 1, 3, 2)
    assert found.hours_a_session.estimate == pytest.approx(1.5)
    assert found.hours_an_engagement.estimate == pytest.approx(1.0)
    assert [(fees.total, fees.an_hour.estimate) for fees in found.fees_an_hour] == [
        (Decimal(1000), 1000.0)
    ]


def test_hours_go_to_all_leads_and_not_only_to_those_that_engaged(cast):
    give(engaged(cast.team, 1200), 60)
    give(add_lead(cast.team), 180)
    found = figure(cast.team)
    assert found.hours_an_engagement.estimate == pytest.approx(4.0)
    assert found.fees_an_hour[0].an_hour.estimate == pytest.approx(300.0)


def test_an_engagement_without_a_fee_counts_for_engagements_alone(cast):
    give(engaged(cast.team, None), 60)
    give(engaged(cast.team, 800), 60)
    found = figure(cast.team)
    assert (found.engaged, found.without_fee) == (2, 1)
    assert found.hours_an_engagement.estimate == pytest.approx(1.0)
    assert found.hours_a_fee.estimate == pytest.approx(2.0)


def test_a_lead_that_closed_first_brings_no_fee(cast):
    lead = give(add_lead(cast.team, ("declined", INDEX)), 60)
    DecisionFactory(lead=lead, kind="engaged", day=INDEX + DAY, fee=Decimal(900), currency="EUR")
    found = figure(cast.team)
    assert (found.engaged, found.fees_an_hour) == (0, ())


def test_currencies_are_never_added_up(cast):
    give(engaged(cast.team, 1000), 60)
    give(engaged(cast.team, "500.125", "USD"), 60)
    found = figure(cast.team)
    assert [(fees.currency, fees.total) for fees in found.fees_an_hour] == [
        ("EUR", Decimal(1000)),
        ("USD", Decimal("500.125")),
    ]
    # Each over all hours: together they are what the two hours brought.
    assert [fees.an_hour.estimate for fees in found.fees_an_hour] == [500.0, 250.0625]


def test_without_a_rate_of_the_month_nothing_is_converted_and_the_month_is_named(cast):
    give(engaged(cast.team, 1000), 60)
    give(engaged(cast.team, 500, "USD"), 60)
    ExchangeRateFactory(team=cast.team, currency="USD", month=date(2025, 2, 1))
    found = figure(cast.team)
    assert found.converted.total is None
    assert found.converted.missing == (("USD", date(2025, 1, 1)),)
    assert found.converted_an_hour is None


def test_with_the_teams_rate_the_converted_sum_stands_beside_and_names_it(cast):
    give(engaged(cast.team, 1000), 60)
    give(engaged(cast.team, 500, "USD"), 60)
    ExchangeRateFactory(
        team=cast.team, currency="USD", month=date(2025, 1, 1), rate=Decimal("0.9")
    )
    found = figure(cast.team)
    assert found.converted.total == Decimal(1450)
    assert [(used.currency, used.rate) for used in found.converted.used] == [
        ("USD", Decimal("0.9"))
    ]
    assert found.converted_an_hour.total == Decimal(1450)
    assert found.converted_an_hour.an_hour.estimate == pytest.approx(725.0)
    assert [fees.total for fees in found.fees_an_hour] == [Decimal(1000), Decimal(500)]


def test_in_one_currency_there_is_nothing_to_convert(cast):
    give(engaged(cast.team, 1000), 60)
    assert figure(cast.team).converted is None


def test_only_facts_of_the_day_or_before_count(cast):
    give(engaged(cast.team, 1000, after=40), 60)
    found = effort(cohort(cast.team, INDEX + 39 * DAY))
    assert (found.engaged, found.fees_an_hour) == (0, ())
    assert effort(cohort(cast.team, INDEX + 40 * DAY)).engaged == 1


def test_filters_narrow_hours_and_fees_alike(cast):
    give(engaged(cast.team, 1000, held=INDEX), 60)
    give(engaged(cast.team, 9000, held=date(2024, 5, 2)), 600)
    found = figure(cast.team, year=2025)
    assert (found.leads, found.minutes, found.fees_an_hour[0].total) == (1, 60, Decimal(1000))


def day_of(number: int, *, fee: int = 0, minutes: int = 60) -> DayOfEffort:
    """One lead of one day."""
    return DayOfEffort(
        day=INDEX + number * DAY,
        complete=True,
        currency="EUR" if fee else None,
        month=date(2025, 1, 1) if fee else None,
        leads=1,
        engaged=int(fee > 0),
        with_fee=int(fee > 0),
        fees=Decimal(fee),
        sessions=1,
        noted=1,
        minutes=minutes,
    )


def test_from_ten_engagements_on_an_interval_is_told(cast):
    weeks = weeks_to(cohort(cast.team))
    nine = [day_of(n, fee=1000 if n < 9 else 0) for n in range(30)]
    found = of_days(nine, "EUR", {}, weeks)
    assert found.hours_a_session == Ratio(1.0, 1.0, 1.0, 30)
    assert found.hours_an_engagement == Ratio(pytest.approx(30 / 9), None, None, 9)
    assert not found.hours_an_engagement.told
    assert not found.fees_an_hour[0].an_hour.told

    ten = [day_of(n, fee=1000 if n < 10 else 0) for n in range(30)]
    found = of_days(ten, "EUR", {}, weeks)
    told = found.fees_an_hour[0].an_hour
    assert told.told
    assert told.estimate == pytest.approx(1000 / 3)
    assert told.low < told.estimate < told.high
    # A third of thirty is drawn again and again: the error of a binomial share, 0.086.
    assert told.low == pytest.approx(1000 * (1 / 3 - 1.96 * 0.086), rel=0.1)


def test_leads_of_one_day_are_drawn_together(cast):
    """However many leads one day has, one day says nothing about the next."""
    weeks = weeks_to(cohort(cast.team))
    apart = of_days([day_of(n, fee=n % 2 * 900) for n in range(40)], "EUR", {}, weeks)
    alike = of_days([day_of(n // 20, fee=n % 2 * 900) for n in range(40)], "EUR", {}, weeks)
    assert apart.fees_an_hour[0].an_hour.low < apart.fees_an_hour[0].an_hour.high
    assert alike.fees_an_hour[0].an_hour.low == alike.fees_an_hour[0].an_hour.high


def test_nothing_given_tells_nothing(cast):
    found = figure(cast.team)
    nothing = Ratio(None, None, None, 0)
    assert found.hours_a_session == found.hours_an_engagement == found.hours_a_fee == nothing
    assert found.fees_an_hour == ()


def test_weeks_count_the_minutes_of_held_sessions_against_the_limit(cast):
    monday = date(2025, 12, 15)
    for day, state, minutes in (
        (monday, "held", 150),
        (monday + 6 * DAY, "held", 120),
        (monday + 7 * DAY, "held", 240),
        (monday + 8 * DAY, "missed", 60),
        (date(2025, 10, 5), "held", 999),
    ):
        SessionFactory(lead=add_lead(cast.team), day=day, state=state, minutes=minutes)
    weeks = weeks_to(cohort(cast.team, date(2025, 12, 31)))
    assert weeks.limit == 240
    assert len(weeks.weeks) == 13
    assert weeks.weeks[0].monday == date(2025, 10, 6)
    assert weeks.weeks[-3:] == (
        Week(monday, 270),
        Week(monday + 7 * DAY, 240),
        Week(date(2025, 12, 29), 0),
    )
    assert weeks.over == 1
    assert weeks.usual == 0


def test_ten_times_as_many_leads_send_no_more_rows(cast):
    for _ in range(2):
        give(engaged(cast.team, 10), 60)
        give(add_lead(cast.team), 60)
    few = effort_by_day(cohort(cast.team))
    for _ in range(18):
        give(engaged(cast.team, 10), 60)
        give(add_lead(cast.team), 60)
    many = effort_by_day(cohort(cast.team))
    assert len(few) == len(many) == 2
    assert [sum(row.leads for row in rows) for rows in (few, many)] == [4, 40]


def test_it_asks_three_questions(cast, django_assert_num_queries):
    give(engaged(cast.team, 10), 60)
    # effort by day, exchange rates, minutes of the last weeks
    with django_assert_num_queries(3):
        figure(cast.team)
