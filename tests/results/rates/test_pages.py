"""Exchange rates: entered, corrected and removed by month, by those who write."""

from datetime import date
from decimal import Decimal

import pytest

from pipeline.results.models import ExchangeRate
from pipeline.teams.models import Team
from tests.factories import ExchangeRateFactory
from tests.leads.pages import fill, url


@pytest.fixture
def browser(cast, sign_in):
    return sign_in(cast.member)


def enter(browser, **typed):
    typed = {"month": "2026-02", "currency": "USD", "rate": "0.9215", **typed}
    return browser.post(url("rate-new"), fill(browser.get(url("rate-new")), **typed))


def stored() -> list[tuple[date, str, str, Decimal]]:
    return list(ExchangeRate.objects.values_list("month", "currency", "into", "rate"))


def test_a_member_enters_a_months_rate_into_the_teams_currency(browser):
    assert enter(browser).status_code == 302
    assert stored() == [(date(2026, 2, 1), "USD", "EUR", Decimal("0.9215"))]
    page = browser.get(url("rates")).content.decode()
    assert "February 2026" in page
    assert "1 USD = 0.9215 EUR" in page


def test_a_form_posted_twice_enters_one_rate(browser):
    typed = fill(browser.get(url("rate-new")), month="2026-02", currency="usd", rate="1.1")
    for _ in range(2):
        assert browser.post(url("rate-new"), typed).status_code == 302
    assert len(stored()) == 1


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("month", "", "This field is required."),
        ("month", "March", "Write a month such as 2026-09."),
        ("month", "2026-02-14", "Write a month such as 2026-09."),
        ("month", "2026-13", "Write a month such as 2026-09."),
        ("month", "2026-04", "This month lies ahead"),
        ("month", "2025-12", "There is a rate for USD in 2025-12 already."),
        ("currency", "XYZ", "Name a currency by its three letters, such as EUR."),
        ("currency", "EUR", "Amounts in EUR need no rate"),
        ("rate", "0", "A rate is more than 0."),
        ("rate", "-1", "greater than or equal to 0"),
        ("rate", "1,1", "Write digits and a decimal point, such as 0.9215."),
        ("rate", "NaN", "Write digits and a decimal point, such as 0.9215."),
        ("rate", "1.1234567", "no more than 6 decimal places"),
        ("rate", "1234567890", "no more than 9 digits before the decimal point"),
    ],
)
def test_bad_input_is_named_with_the_mend_and_kept(cast, browser, field, typed, said):
    ExchangeRateFactory(team=cast.team, currency="USD", month=date(2025, 12, 1))
    answer = enter(browser, **{field: typed})
    assert answer.status_code == 422
    assert said in " ".join(answer.context["form"].errors[field])
    assert not typed or f'value="{typed}"' in answer.content.decode()
    assert len(stored()) == 1


def test_the_present_month_has_a_rate_and_the_next_has_none_yet(browser):
    assert enter(browser, month="2026-03").status_code == 302
    assert enter(browser, month="2026-04").status_code == 422


def test_a_rate_is_corrected(cast, browser):
    rate = ExchangeRateFactory(team=cast.team)
    path = url("rate-edit", rate.pk)
    opened = browser.get(path)
    assert 'value="2025-12"' in opened.content.decode()
    assert 'value="1.0625"' in opened.content.decode()
    assert browser.post(path, fill(opened, month="2025-11", rate="1.07")).status_code == 302
    assert stored() == [(date(2025, 11, 1), "CHF", "EUR", Decimal("1.07"))]


def test_of_two_who_correct_a_rate_the_second_sees_both_versions(cast, browser):
    path = url("rate-edit", ExchangeRateFactory(team=cast.team).pk)
    first, second = browser.get(path), browser.get(path)
    browser.post(path, fill(first, rate="1.07"))
    answer = browser.post(path, fill(second, rate="1.08"))
    assert answer.status_code == 409
    seen = [(d.name, d.typed, d.stored) for d in answer.context["differences"]]
    assert seen == [("rate", "1.08", "1.07")]


def test_the_second_click_on_save_says_that_it_was_saved(cast, browser):
    path = url("rate-edit", ExchangeRateFactory(team=cast.team).pk)
    typed = fill(browser.get(path), rate="1.07")
    browser.post(path, typed)
    assert "saved already" in browser.post(path, typed, follow=True).content.decode()


def test_a_rate_is_removed_once_however_often_the_button_is_pressed(cast, browser):
    path = url("rate-remove", ExchangeRateFactory(team=cast.team).pk)
    typed = fill(browser.get(path))
    for _ in range(2):
        assert browser.post(path, typed).status_code == 302
    assert stored() == []


def test_a_rate_into_a_currency_that_is_no_longer_the_teams_says_so(cast, browser):
    ExchangeRateFactory(team=cast.team)
    Team.objects.filter(pk=cast.team.pk).update(currency="GBP")
    page = browser.get(url("rates")).content.decode()
    assert "not used: the team's currency is GBP" in page.replace("&#x27;", "'")


def test_a_reader_reads_rates_and_finds_no_button(cast, sign_in):
    ExchangeRateFactory(team=cast.team)
    page = sign_in(cast.reader).get(url("rates")).content.decode()
    assert "1 CHF = 1.0625 EUR" in page
    assert "Enter a rate" not in page
    assert "Correct" not in page


def test_the_list_takes_as_many_queries_for_many_rates(cast, browser, django_assert_num_queries):
    for month in range(1, 12):
        ExchangeRateFactory(team=cast.team, month=date(2025, month, 1))
    # login session, user, member with team at the door, rates
    with django_assert_num_queries(4):
        browser.get(url("rates"))
