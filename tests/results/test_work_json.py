"""The team's work in the JSON: its keys are a promise, and the crew is for owners."""

import json
import re
from datetime import date
from decimal import Decimal
from io import StringIO

import pytest
from django.core.management import call_command

from pipeline.clock import moment
from pipeline.results.as_json import as_json
from pipeline.results.figures.results import results
from pipeline.results.figures.work import work
from tests.conftest import NOW
from tests.factories import ExchangeRateFactory

from . import work as rows
from .rows import AS_OF
from .work import DAY, cohort, engaged, give, promised

RATE = ["estimate", "low", "high", "level"]
RATIO = ["estimate", "low", "high", "events", "level"]
AT = ["days", "estimate", "se", "low", "high", "at_risk"]


def told(team, *, with_crew: bool = True, as_of: date = AS_OF) -> dict:
    asked = cohort(team, as_of)
    return json.loads(as_json(team.slug, results(asked), work(asked, with_crew=with_crew)))


@pytest.fixture
def history(cast):
    """One of everything: fees in two currencies, a promise kept, a lead that waits."""
    promised(give(engaged(cast.team, 1000), 30, 60, 30), sent=2)
    give(engaged(cast.team, 500, "USD"), 60)
    ExchangeRateFactory(
        team=cast.team, currency="USD", month=date(2025, 1, 1), rate=Decimal("0.9")
    )
    rows.waited(cast.team, 100, said=date(2024, 6, 1))
    rows.waiting(cast.team, AS_OF - 40 * DAY, expected_fee=Decimal("750.5"))
    return cast


def test_the_keys_and_their_order_are_pinned(history):
    found = told(history.team)
    assert list(found)[-6:] == [
        "effort", "promises", "waiting", "forecast", "backtest", "crew"
    ]  # fmt: skip
    assert list(found["effort"]) == [
        "leads", "complete", "engaged", "without_fee", "sessions", "noted", "minutes",
        "hours_a_session", "hours_an_engagement", "hours_a_fee", "fees_an_hour", "converted",
        "weeks",
    ]  # fmt: skip
    assert list(found["effort"]["hours_a_session"]) == RATIO
    assert list(found["effort"]["fees_an_hour"][0]) == ["currency", "fees", "total", "an_hour"]
    assert list(found["effort"]["converted"]) == [
        "currency", "total", "an_hour", "rates", "missing"
    ]  # fmt: skip
    assert list(found["effort"]["weeks"]) == [
        "limit_minutes", "over", "median_minutes", "weeks"
    ]  # fmt: skip
    assert list(found["promises"]) == [
        "promised", "sent", "waived", "owed", "due", "on_time", "on_time_rate",
        "working_days_to_sending", "sessions", "missed_rate", "after_sending",
    ]  # fmt: skip
    assert list(found["promises"]["on_time_rate"]) == RATE
    assert list(found["promises"]["after_sending"]["groups"][0]) == [
        "sent_from_day", "sent_to_day", "leads", "engaged", "within"
    ]  # fmt: skip
    assert list(found["waiting"]) == [
        "waiting", "returned", "told", "likeliest_worth_first", "writing_stops_paying"
    ]  # fmt: skip
    assert list(found["waiting"]["likeliest_worth_first"][0]) == [
        "lead_ref", "organisation", "owner", "held_on", "no_budget_on", "waited",
        "funded_on", "expected_on", "by_month", "fee", "currency", "chance", "worth",
    ]  # fmt: skip
    assert list(found["waiting"]["writing_stops_paying"]) == [
        "least_chance", "after_days", "may_pay_again_from", "told_until", "leads_past_it"
    ]  # fmt: skip
    assert list(found["forecast"]) == ["waiting", "returned", "without_fee", "told", "ahead"]
    assert list(found["forecast"]["ahead"][0]) == [
        "days", "expected", "low", "high", "beyond", "fees", "level"
    ]  # fmt: skip
    assert list(found["backtest"]) == ["days", "level", "quarters", "told", "held", "held_rate"]
    assert list(found["backtest"]["quarters"][0]) == [
        "day", "waiting", "expected", "low", "high", "returned", "held"
    ]  # fmt: skip
    assert list(found["crew"]) == ["days", "groups", "pairs"]
    group = found["crew"]["groups"][0]
    assert list(group) == ["name", "leads_with_session", "engaged", "conversion", "within"]
    assert list(group["within"][0]) == AT


def keys_of(part: object) -> set[str]:
    """Every key, however deep it stands."""
    if isinstance(part, dict):
        return set(part).union(*map(keys_of, part.values()))
    return set().union(*map(keys_of, part)) if isinstance(part, list) else set()


def test_every_key_stands_in_the_readme(history, settings):
    keys = keys_of(told(history.team))
    assert {"may_pay_again_from", "engaged_on", "not_sent", "chance"} <= keys
    figures = (settings.BASE_DIR / "README.md").read_text().partition("## The figures as JSON")[2]
    words = set(re.findall(r"\w+", figures.partition("\n## ")[0]))
    assert sorted(keys - words) == []


def test_the_values_are_those_of_the_figures(history):
    """By hand: 3 hours on two leads that engaged; 1000 EUR, and 500 USD at 0.9."""
    effort = told(history.team)["effort"]
    assert effort["hours_a_session"] == {
        "estimate": 1.5, "low": None, "high": None, "events": 2, "level": 0.95
    }  # fmt: skip
    assert [(fees["currency"], fees["total"]) for fees in effort["fees_an_hour"]] == [
        ("EUR", "1000.000"),
        ("USD", "500.000"),
    ]
    assert effort["converted"]["total"] == "1450.000"
    assert effort["converted"]["rates"] == [
        {"currency": "USD", "month": "2025-01-01", "rate": "0.900000", "amount": "500.000"}
    ]
    listed = told(history.team)["waiting"]["likeliest_worth_first"]
    assert [(one["waited"], one["fee"], one["worth"]) for one in listed] == [(40, "750.500", None)]


def test_what_cannot_be_told_is_null(cast):
    found = told(cast.team)
    assert found["effort"]["hours_a_session"]["estimate"] is None
    assert found["effort"]["converted"] is None
    assert found["promises"]["on_time_rate"]["estimate"] is None
    assert found["promises"]["after_sending"]["days"] is None
    assert found["waiting"]["writing_stops_paying"]["after_days"] is None
    assert {ahead["expected"] for ahead in found["forecast"]["ahead"]} == {None}
    assert found["backtest"]["held_rate"]["estimate"] is None


def test_the_page_hands_the_crew_to_owners_alone(history, sign_in):
    for who, has_crew in (("owner", True), ("member", False), ("reader", False)):
        answer = sign_in(getattr(history, who)).get("/t/harbour/results/", {"as": "json"})
        assert ("crew" in json.loads(answer.content)) is has_crew


def test_an_owners_file_is_what_the_command_prints(history, sign_in):
    with moment.stopped(NOW):
        answer = sign_in(history.owner).get(
            "/t/harbour/results/", {"as": "json", "as_of": "2025-12-31"}
        )
        out = StringIO()
        call_command(
            "results", "--team", "harbour", "--as-of", "2025-12-31", "--format", "json", stdout=out
        )
    assert answer.content.decode() == out.getvalue().rstrip("\n")
