"""What may come of those who wait: returns and fees, with a predictive interval."""

from datetime import date
from decimal import Decimal

import pytest

from pipeline.results.exhibits.forecast import said, to_come
from pipeline.results.figures.forecast import forecast, of_counts
from pipeline.results.questions.waiting import Alike, Fees
from pipeline.stats.forecast import expected_returns

from . import work
from .rows import AS_OF
from .work import DAY, cohort

START = date(2023, 6, 1)


def closed_record(returns: int, stayed: int) -> list[Alike]:
    """So many returned on day 30, the others closed on day 400."""
    return [Alike(30, 1, 0, True, returns), Alike(400, 2, 0, True, stayed)]


def test_it_is_the_forecast_of_the_same_leads_one_by_one():
    alike = [*closed_record(12, 30), Alike(10, 0, 0, True, 5), Alike(200, 0, 40, True, 2)]
    found = of_counts(alike, [])
    times = [30] * 12 + [400] * 30 + [10] * 5 + [200] * 2
    causes = [1] * 12 + [2] * 30 + [0] * 7
    entry = [0] * 47 + [40] * 2
    for ahead in found.ahead:
        by_lead = expected_returns(
            times, causes, [10] * 5 + [200] * 2, ahead.days, entry=entry, draws=2000, seed=1
        )
        assert (ahead.expected, ahead.low, ahead.high, ahead.beyond) == (
            by_lead.expected,
            by_lead.low,
            by_lead.high,
            by_lead.beyond,
        )
    assert (found.waiting, found.returned) == (7, 12)


def test_who_was_followed_too_late_waits_but_is_not_in_the_curve():
    off = [*closed_record(12, 30), Alike(10, 0, 12, False, 3)]
    on = [*closed_record(12, 30)]
    found = of_counts(off, [])
    assert found.waiting == 3
    chance = of_counts([*on, Alike(10, 0, 12, False, 1)], []).ahead[0].expected
    assert found.ahead[0].expected == pytest.approx(3 * chance)
    assert chance == pytest.approx(12 / 42)


def test_before_five_returned_or_where_nobody_waits_it_cannot_be_told():
    for alike in (
        [*closed_record(4, 50), Alike(10, 0, 0, True, 5)],
        closed_record(40, 50),
        [],
    ):
        found = of_counts(alike, [Fees(10, "EUR", 1, Decimal(5), 25.0)])
        assert not found.told
        for ahead in found.ahead:
            assert (ahead.expected, ahead.low, ahead.high) == (None, None, None)
            assert {fee.expected for fee in ahead.fees} == {None}


def test_expected_fees_are_chance_times_fee_within_each_currency():
    alike = [*closed_record(20, 20), Alike(10, 0, 0, True, 4)]
    fees = [
        Fees(10, "EUR", 2, Decimal(3000), 1000.0**2 + 2000.0**2),
        Fees(10, "USD", 1, Decimal(500), 500.0**2),
        Fees(10, None, 1, Decimal(0), 0.0),
    ]
    found = of_counts(alike, fees)
    chance = Decimal(found.ahead[0].expected) / 4
    euro, dollar = found.ahead[0].fees
    assert found.without_fee == 1
    assert (euro.currency, euro.leads) == ("EUR", 2)
    assert euro.expected == pytest.approx(chance * 3000, abs=Decimal("0.01"))
    assert dollar.expected == pytest.approx(chance * 500, abs=Decimal("0.01"))
    assert 0 <= euro.low <= euro.expected <= euro.high <= 3000
    # One lead brings its whole fee, or nothing.
    assert {dollar.low, dollar.high} == {Decimal(0), Decimal(500)}


def test_a_longer_horizon_brings_no_less():
    alike = [
        Alike(30, 1, 0, True, 10),
        Alike(150, 1, 0, True, 10),
        Alike(400, 2, 0, True, 30),
        Alike(10, 0, 0, True, 6),
    ]
    near, far = of_counts(alike, []).ahead
    assert (near.days, far.days) == (90, 180)
    assert near.expected < far.expected
    assert near.low <= far.low
    assert near.high <= far.high


def test_those_who_will_have_waited_longer_than_anybody_are_told():
    alike = [*closed_record(12, 30), Alike(311, 0, 0, True, 4), Alike(310, 0, 0, True, 1)]
    near, far = of_counts(alike, []).ahead
    assert (near.beyond, far.beyond) == (4, 5)


def test_a_team_reads_it_from_its_rows(cast, django_assert_num_queries):
    for number in range(30):
        day, cause = (100, "engaged") if number < 15 else (500, "declined")
        work.waited(cast.team, day, cause, said=START)
    for _ in range(4):
        work.waiting(cast.team, AS_OF - 50 * DAY, expected_fee=Decimal(1000))
    work.waiting(cast.team, AS_OF - 50 * DAY)
    # waits by day, expected fees by day and currency
    with django_assert_num_queries(2):
        found = forecast(cohort(cast.team))
    near = found.ahead[0]
    # Half of the 30 return on day 100, with nobody else at risk then.
    assert near.expected == pytest.approx(5 * 15 / 30)
    assert near.fees[0].expected == pytest.approx(Decimal(2000), abs=Decimal("0.01"))
    assert found.without_fee == 1
    assert near.low <= near.expected <= near.high


def test_an_estimated_amount_is_said_without_cents():
    alike = [*closed_record(20, 20), Alike(10, 0, 0, True, 3)]
    exhibit = to_come(of_counts(alike, [Fees(10, "EUR", 3, Decimal(10_000), 4e7)]))
    cells = [cell for row in exhibit.tables[0].rows for cell in row.cells if "EUR" in cell]
    assert "5,000 EUR" in cells
    assert not any("." in cell for cell in cells)


def test_one_lead_waits_and_several_wait():
    one, several = (of_counts([Alike(10, 0, 0, True, n)], []) for n in (1, 3))
    assert "1 lead waits, 0 returned" in said(one)[0]
    assert "3 leads wait, 0 returned" in said(several)[0]
    told = of_counts([*closed_record(20, 20), Alike(10, 0, 0, True, 1)], [])
    assert said(told)[0].startswith("Of 1 lead that waits, ")
