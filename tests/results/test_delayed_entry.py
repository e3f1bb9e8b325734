"""A lead followed only since a day after its "no budget yet" enters the curve late."""

from datetime import timedelta

import pytest

from .rows import INDEX, add_lead, figures

AS_OF = INDEX + timedelta(days=400)


def on(days: int):
    return INDEX + timedelta(days=days)


def delayed(cast, as_of=AS_OF):
    return figures(cast.team, as_of).delayed_return


def estimates(cast):
    return [point.estimate for point in delayed(cast).incidence][:2]


@pytest.fixture
def three_leads(cast):
    """All said it on day 0; back on day 50, back on day 80, waiting."""
    said = ("no budget yet", on(0))
    add_lead(cast.team, said, ("engaged", on(50)))
    late = add_lead(cast.team, said, ("engaged", on(80)))
    add_lead(cast.team, said)
    return late


def follow(lead, since):
    lead.followed_since = since
    lead.save()


@pytest.mark.parametrize("since", [None, on(-30), on(0)])
def test_followed_from_the_start_is_at_risk_from_the_start(cast, three_leads, since):
    """By hand: 1/3 on day 50, then 2/3 x 1/2: 2/3 by day 90."""
    follow(three_leads, since)
    assert estimates(cast)[0] == pytest.approx(2 / 3, abs=1e-12)


def test_followed_since_a_later_day_is_not_at_risk_before(cast, three_leads):
    """By hand, entry on day 60: 1/2 on day 50 (two at risk), then 1/2 x 1/2: 3/4 by day 90."""
    follow(three_leads, on(60))
    assert estimates(cast)[0] == pytest.approx(3 / 4, abs=1e-12)


def test_late_entry_is_at_risk_from_the_day_after(cast, three_leads):
    """Entered on day 50, that of the first return, it has two at risk; on day 49, three."""
    follow(three_leads, on(50))
    assert estimates(cast)[0] == pytest.approx(3 / 4, abs=1e-12)
    follow(three_leads, on(49))
    assert estimates(cast)[0] == pytest.approx(2 / 3, abs=1e-12)


@pytest.mark.parametrize("since", [on(80), on(81), on(900)])
def test_followed_only_since_its_end_is_counted_but_not_on_the_curve(cast, three_leads, since):
    """By hand: the curve holds two leads, one back on day 50: 1/2."""
    follow(three_leads, since)
    found = delayed(cast)
    assert (found.started, found.returned, found.waiting, found.closed) == (3, 2, 1, 0)
    assert found.off_curve == 1
    assert estimates(cast)[0] == pytest.approx(1 / 2, abs=1e-12)


def test_a_day_between_two_no_budget_yets_is_measured_from_the_one_that_starts(cast):
    """Said before its session and again after it; followed since between the two: not late."""
    add_lead(
        cast.team,
        ("no budget yet", on(-90)),
        ("no budget yet", on(0)),
        ("engaged", on(10)),
        followed_since=on(-30),
    )
    assert estimates(cast)[0] == 1
    assert delayed(cast).off_curve == 0


def test_conversion_does_not_ask_since_when_a_lead_was_followed(cast):
    add_lead(cast.team, ("engaged", on(10)), followed_since=on(300))
    assert figures(cast.team, AS_OF).overall.engaged == 1
