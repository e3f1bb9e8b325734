"""What part of all engagements, and of all fees, were returns; and which session earned each."""

from datetime import timedelta
from decimal import Decimal

import numpy as np
import pytest

from pipeline.results.cohort import Cohort
from pipeline.results.figures.readings import Rate, share_of_sums
from pipeline.results.figures.returns import return_share, returns_page
from pipeline.stats.proportions import wilson_interval
from tests.factories import DecisionFactory, FundingFactory, SessionFactory

from .bulk import History, store
from .rows import AS_OF, INDEX, add_lead

WAITED = {"no budget yet": 0, "engaged": 100}
AT_ONCE = {"engaged": 10}


def share(team):
    return return_share(Cohort(team, AS_OF))


def paid(decisions, fee: str | None, currency="EUR") -> History:
    return History(INDEX, decisions, fee=None if fee is None else Decimal(fee), currency=currency)


def test_engagements_that_followed_no_budget_yet_are_returns(cast):
    """2 of 5, with Wilson's interval of the count."""
    store(cast.team, [paid(WAITED, None)] * 2 + [paid(AT_ONCE, None)] * 3)
    store(cast.team, [History(INDEX, {"no budget yet": 0}), History(INDEX, {"declined": 3})])
    found = share(cast.team)
    assert (found.engaged, found.returned, found.without_fee) == (5, 2, 5)
    assert found.share.estimate == 2 / 5
    assert (found.share.low, found.share.high) == wilson_interval(2, 5)
    assert found.fees == ()


def test_no_budget_yet_after_the_engagement_makes_no_return(cast):
    store(cast.team, [History(INDEX, {"engaged": 10, "no budget yet": 11})])
    assert share(cast.team).returned == 0


def test_fees_are_added_up_within_one_currency_and_exactly(cast):
    """Three times 0.1 is 0.3; of francs and euros there is no sum."""
    store(
        cast.team,
        [
            *[paid(AT_ONCE, "0.100")] * 2,
            paid(WAITED, "0.100"),
            paid(WAITED, "7000.00", "CHF"),
            paid(AT_ONCE, None),
        ],
    )
    found = share(cast.team)
    assert [(fee.currency, fee.total, fee.of_returns) for fee in found.fees] == [
        ("CHF", Decimal("7000.000"), Decimal("7000.000")),
        ("EUR", Decimal("0.300"), Decimal("0.100")),
    ]
    assert [(fee.engaged, fee.returned) for fee in found.fees] == [(1, 1), (3, 1)]
    assert (found.engaged, found.without_fee) == (5, 1)


def test_the_largest_amounts_keep_their_last_digit(cast):
    store(cast.team, [paid(AT_ONCE, "99999999999.999"), paid(WAITED, "99999999999.998")])
    (fee,) = share(cast.team).fees
    assert (fee.total, fee.of_returns) == (
        Decimal("199999999999.997"),
        Decimal("99999999999.998"),
    )


def test_with_equal_fees_the_interval_is_wilsons_of_the_count(cast):
    store(cast.team, [paid(WAITED, "500")] * 3 + [paid(AT_ONCE, "500")] * 7)
    (fee,) = share(cast.team).fees
    assert fee.share.estimate == 0.3
    assert (fee.share.low, fee.share.high) == pytest.approx(wilson_interval(3, 10), abs=1e-12)


def test_one_large_fee_makes_the_share_less_sure(cast):
    """Ten engagements, one of which brought nine tenths: hardly more than one observation."""
    store(cast.team, [paid(WAITED, "90000")] + [paid(AT_ONCE, "1111.111")] * 9)
    (fee,) = share(cast.team).fees
    assert fee.share.estimate == pytest.approx(0.9, abs=1e-6)
    assert fee.share.high - fee.share.low > 0.5
    assert not fee.share.told


def test_where_all_or_none_are_returns_the_size_is_that_of_the_fees():
    """Four equal fees count as four, and one that outweighs three as little more than one."""
    assert share_of_sums(400, 400, 4 * 100**2, 4 * 100**2) == pytest.approx(wilson_interval(4, 4))
    low, high = share_of_sums(1003, 0, 1000**2 + 3, 0)
    assert low == 0
    assert high == pytest.approx(wilson_interval(0, 1)[1], abs=0.01)


def test_the_error_of_a_share_of_fees_agrees_with_drawing_the_engagements_anew():
    """The bootstrap by engagement, 4,000 rounds with a fixed seed: its spread within a tenth."""
    draw = np.random.default_rng(5)
    fees = draw.lognormal(9, 0.6, 200)
    back = draw.random(200) < 0.35
    low, high = share_of_sums(
        fees.sum(), fees[back].sum(), (fees**2).sum(), (fees[back] ** 2).sum()
    )
    rounds = draw.integers(0, 200, (4000, 200))
    again = (fees * back)[rounds].sum(axis=1) / fees[rounds].sum(axis=1)
    assert (high - low) / (2 * 1.96) == pytest.approx(again.std(), rel=0.1)


def test_fees_that_add_up_to_nothing_have_no_share(cast):
    store(cast.team, [paid(WAITED, "0"), paid(AT_ONCE, "0")])
    (fee,) = share(cast.team).fees
    assert fee.share == Rate(None, None, None)


def test_without_an_engagement_it_cannot_be_told(cast):
    store(cast.team, [History(INDEX)])
    found = share(cast.team)
    assert (found.engaged, found.share, found.fees) == (0, Rate(None, None, None), ())


def test_only_the_engagement_that_decided_brings_its_fee(cast):
    """A lead that engages again is an old customer; a closed one that engages stays closed."""
    (lead,) = store(cast.team, [paid(AT_ONCE, "100")])
    again = {"kind": "engaged", "day": INDEX + timedelta(days=90), "currency": "EUR"}
    DecisionFactory(lead=lead, fee=Decimal(900), **again)
    store(cast.team, [paid({"declined": 3, "engaged": 50}, "5000")])
    (fee,) = share(cast.team).fees
    assert fee.total == 100


def test_a_fee_without_a_currency_is_in_the_leads(cast):
    store(cast.team, [paid(AT_ONCE, "100", "")])
    (fee,) = share(cast.team).fees
    assert fee.currency == "EUR"


def test_each_return_is_credited_to_the_first_held_session(cast):
    said = [("no budget yet", INDEX), ("engaged", INDEX + timedelta(days=100))]
    lead = add_lead(cast.team, *said, organisation="Brook & Sons")
    first = lead.sessions.get()
    SessionFactory(lead=lead, day=INDEX + timedelta(days=50), state="held")
    FundingFactory(lead=lead, arrived_on=INDEX + timedelta(days=80))
    add_lead(cast.team, ("engaged", INDEX))
    page = returns_page(Cohort(cast.team, AS_OF), 1)
    (one,) = page.returns
    assert (one.lead, one.organisation, one.session) == (lead.pk, "Brook & Sons", first.pk)
    assert (one.held_on, one.format) == (INDEX, "hour")
    assert (one.no_budget_on, one.engaged_on) == (INDEX, INDEX + timedelta(days=100))
    assert (one.funded_on, one.waited) == (INDEX + timedelta(days=80), 100)
    assert (one.fee, one.currency) == (None, None)


def test_the_list_of_returns_comes_in_pages_the_newest_first(cast):
    """Five returns, two a page; on one day the lead entered last comes first."""
    histories = [History(INDEX, {"no budget yet": 0, "engaged": 10 + n // 2}) for n in range(5)]
    leads = store(cast.team, histories)
    cohort = Cohort(cast.team, AS_OF)
    pages = [returns_page(cohort, 5, offset=offset, limit=2).returns for offset in (0, 2, 4)]
    assert [len(page) for page in pages] == [2, 2, 1]
    told = [one.lead for page in pages for one in page]
    assert told == [leads[n].pk for n in (4, 3, 2, 1, 0)]
