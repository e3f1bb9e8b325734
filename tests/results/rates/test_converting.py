"""Fees of several currencies in one: by the team's own rates, or not at all."""

from datetime import date
from decimal import Decimal

from pipeline.results.rates.converting import Used, in_one_currency, rates_into
from pipeline.teams.models import Team
from tests.factories import ExchangeRateFactory

MARCH, APRIL = date(2025, 3, 1), date(2025, 4, 1)


def test_each_amount_is_converted_by_the_rate_of_its_month():
    amounts = {("USD", MARCH): Decimal(1000), ("USD", APRIL): Decimal(500)}
    rates = {("USD", MARCH): Decimal("0.9"), ("USD", APRIL): Decimal("0.8")}
    found = in_one_currency({**amounts, ("EUR", MARCH): Decimal(70)}, "EUR", rates)
    assert found.total == Decimal("1370.000")
    assert found.used == (
        Used("USD", MARCH, Decimal("0.9"), Decimal(1000)),
        Used("USD", APRIL, Decimal("0.8"), Decimal(500)),
    )
    assert found.missing == ()


def test_where_a_rate_is_missing_there_is_no_total_and_the_month_is_named():
    amounts = {("USD", MARCH): Decimal(1000), ("CHF", APRIL): Decimal(500)}
    found = in_one_currency(amounts, "EUR", {("USD", MARCH): Decimal("0.9")})
    assert found.total is None
    assert found.missing == (("CHF", APRIL),)


def test_amounts_of_one_currency_are_not_converted():
    assert in_one_currency({("EUR", MARCH): Decimal(5)}, "EUR", {}) is None
    assert in_one_currency({}, "EUR", {}) is None


def test_cents_are_kept_and_halves_go_to_the_even():
    found = in_one_currency({("USD", MARCH): Decimal("0.005")}, "EUR",
                            {("USD", MARCH): Decimal("0.5")})  # fmt: skip
    assert found.total == Decimal("0.002")


def test_only_the_teams_own_rates_into_its_present_currency_serve(cast):
    ExchangeRateFactory(team=cast.team, currency="CHF", month=MARCH)
    ExchangeRateFactory(team=cast.team, currency="USD", month=MARCH, into="GBP")
    ExchangeRateFactory(team=cast.other_team, currency="CHF", month=APRIL)
    assert rates_into(cast.team) == {("CHF", MARCH): Decimal("1.0625")}
    Team.objects.filter(pk=cast.team.pk).update(currency="GBP")
    assert list(rates_into(Team.objects.get(pk=cast.team.pk))) == [("USD", MARCH)]
