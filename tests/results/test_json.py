"""`manage.py results --format json`: its keys are a promise to whoever reads them."""

import json
from datetime import timedelta
from decimal import Decimal
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from tests.conftest import TODAY
from tests.factories import FormatFactory, SourceFactory

from .bulk import History, store
from .rows import INDEX, add_lead

GROUP = ["name", "leads_with_session", "engaged", "open", "closed", "reopened", "conversion"]


def printed(*arguments: str) -> str:
    out = StringIO()
    call_command("results", *arguments, stdout=out)
    return out.getvalue()


def asked(team, *arguments: str) -> dict:
    return json.loads(printed("--team", team.slug, "--format", "json", *arguments))


@pytest.fixture
def history(cast):
    """Four leads: back after 100 days, waiting, closed before its session, and without format."""
    hour = FormatFactory(team=cast.team, name="hour")
    fair = SourceFactory(team=cast.team, name="fair")
    said = ("no budget yet", INDEX)
    add_lead(cast.team, said, ("engaged", INDEX + timedelta(days=100)), format=hour, source=fair)
    add_lead(cast.team, said, format=hour, source=None)
    add_lead(cast.team, ("declined", INDEX - timedelta(days=1)), format=hour, source=fair)
    return cast


def test_the_keys_and_their_order_are_pinned(history):
    found = asked(history.team)
    assert list(found)[:6] == [
        "team", "as_of", "formats", "sources", "overall", "delayed_return"
    ]  # fmt: skip
    for group in (*found["formats"], *found["sources"]):
        assert list(group) == GROUP
        assert list(group["conversion"]) == ["estimate", "low", "high", "level"]
    assert list(found["overall"]) == [*GROUP, "excluded"]
    delayed = found["delayed_return"]
    assert list(delayed) == ["started", "returned", "waiting", "closed", "incidence"]
    assert [point["days"] for point in delayed["incidence"]] == [90, 180, 365, 730]
    for point in delayed["incidence"]:
        assert list(point) == ["days", "estimate", "se", "low", "high", "at_risk"]


def test_what_has_grown_stands_after_the_first_keys_which_stay(history):
    assert list(asked(history.team))[6:] == [
        "filters", "conversion_within", "side_by_side", "waits", "since_funding", "return_share",
        "returns", "effort", "promises", "waiting", "forecast", "backtest", "crew",
    ]  # fmt: skip


def test_the_keys_of_engagements_and_returns_are_pinned(history):
    found = asked(history.team)
    reading = ["days", "estimate", "se", "low", "high", "at_risk"]
    within = found["conversion_within"]
    assert list(within) == ["overall", "formats", "sources", "attendees"]
    assert [point["days"] for point in within["overall"]] == [30, 90, 180, 365]
    assert all(list(point) == reading for point in within["overall"])
    assert all(list(group) == ["name", "within"] for group in within["formats"])
    assert list(found["side_by_side"]) == ["formats", "sources", "attendees"]
    waits = found["waits"]
    assert list(waits) == ["off_curve", "closing", "median", "mean"]
    assert list(waits["median"]) == ["day", "low", "high"]
    assert list(waits["mean"]) == ["until", "waiting", "returned", "closed"]
    assert list(waits["mean"]["waiting"]) == ["estimate", "low", "high"]
    assert list(found["since_funding"]) == [
        "funded", "engaged", "waiting", "closed", "off_curve", "incidence", "median"
    ]  # fmt: skip
    assert [point["days"] for point in found["since_funding"]["incidence"]] == [30, 90, 180, 365]
    assert list(found["return_share"]) == ["engaged", "returned", "share", "fees", "without_fee"]
    assert list(found["returns"]) == ["total", "newest"]
    (one,) = found["returns"]["newest"]
    assert list(one) == [
        "lead_ref", "organisation", "held_on", "format", "no_budget_on", "funded_on",
        "engaged_on", "waited", "fee", "currency",
    ]  # fmt: skip


def test_what_is_compared_is_pinned_too(cast):
    """Two formats, twelve engaged and ten still open in each."""
    for name in ("half", "hour"):
        hour = FormatFactory(team=cast.team, name=name)
        histories = [History(INDEX, {"engaged": 5}) for _ in range(12)]
        histories += [History(INDEX) for _ in range(10)]
        for history in histories:
            history.session["format"] = hour
        store(cast.team, histories)
    found = asked(cast.team)["side_by_side"]["formats"]
    assert list(found) == ["days", "groups", "pairs", "too_few_at_risk", "too_few_engagements"]
    assert found["days"] == 365
    for group in found["groups"]:
        assert list(group) == [
            "name", "raw", "engaged", "followed", "followed_engaged", "drawn_together"
        ]  # fmt: skip
        assert list(group["drawn_together"]) == ["estimate", "low", "high"]
    (pair,) = found["pairs"]
    assert list(pair) == [
        "first", "second", "difference", "low", "high", "p_value", "adjusted", "told"
    ]  # fmt: skip
    assert (pair["difference"], pair["told"]) == (0.0, False)


def test_amounts_are_texts_with_all_their_digits(cast):
    store(
        cast.team,
        [History(INDEX, {"no budget yet": 0, "engaged": 9}, fee=Decimal("12500.5"))],
    )
    found = asked(cast.team)
    (fee,) = found["return_share"]["fees"]
    assert (fee["currency"], fee["total"], fee["of_returns"]) == ("EUR", "12500.500", "12500.500")
    assert found["returns"]["newest"][0]["fee"] == "12500.500"


def test_the_values_are_those_of_the_team_on_the_day(history):
    """By hand: one of two had returned by day 100, so 0 by day 90 and 1/2 by day 180."""
    found = asked(history.team, "--as-of", "2025-12-31")
    assert (found["team"], found["as_of"]) == ("harbour", "2025-12-31")
    assert [group["name"] for group in found["sources"]] == ["fair", None]
    overall = found["overall"]
    assert [overall[key] for key in GROUP[:-1]] == [None, 2, 1, 1, 0, 0]
    assert overall["conversion"]["estimate"] == 0.5
    assert overall["excluded"] == 1
    early, later, year, _ = found["delayed_return"]["incidence"]
    assert (early["estimate"], early["se"], early["low"], early["at_risk"]) == (0.0, 0.0, None, 2)
    assert (later["estimate"], later["at_risk"]) == (0.5, 1)
    assert later["low"] < 0.5 < later["high"]
    assert year == {
        "days": 365, "estimate": None, "se": None, "low": None, "high": None, "at_risk": 0
    }  # fmt: skip


def test_a_team_without_sessions_has_null_and_never_a_zero_in_its_place(cast):
    found = asked(cast.team)
    assert (found["formats"], found["sources"]) == ([], [])
    counts = dict.fromkeys(["leads_with_session", "engaged", "open", "closed", "reopened"], 0)
    assert found["overall"] == {
        **counts,
        "name": None,
        "conversion": {"estimate": None, "low": None, "high": None, "level": 0.95},
        "excluded": 0,
    }
    assert all(point["estimate"] is None for point in found["delayed_return"]["incidence"])


def test_the_as_of_day_is_today_where_none_is_given(cast):
    assert asked(cast.team)["as_of"] == TODAY.isoformat()


def test_the_same_rows_give_the_same_text(history):
    one, again = (printed("--team", "harbour", "--format", "json") for _ in range(2))
    assert one == again


@pytest.mark.parametrize(
    ("arguments", "fault"),
    [
        (["--team", "nobody"], "--team: there is no team with the slug 'nobody'."),
        (
            ["--team", "harbour", "--as-of", "2026-02-30"],
            "--as-of: '2026-02-30' is no day; write it as 2026-03-31.",
        ),
        (
            ["--team", "harbour", "--as-of", "2026-W10-2"],
            "--as-of: '2026-W10-2' is no day; write it as 2026-03-31.",
        ),
        (["--team", "harbour", "--as-of", ""], "--as-of: '' is no day; write it as 2026-03-31."),
    ],
)
def test_what_was_asked_wrongly_is_told_in_one_line(cast, arguments, fault):
    with pytest.raises(CommandError) as told:
        printed(*arguments)
    assert str(told.value) == fault
    assert "\n" not in str(told.value)
