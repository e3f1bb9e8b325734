"""What to expect of those who wait, and how well such forecasts have held."""

from __future__ import annotations

from collections.abc import Mapping

from django.utils.formats import date_format

from pipeline.results import words
from pipeline.results.charts.marks import Mark, Marks, side_by_side
from pipeline.results.charts.scale import whole_values
from pipeline.results.cohort import Cohort
from pipeline.results.exhibits.exhibit import Data, Exhibit, Row, Table, Value
from pipeline.results.exhibits.saying import count, share, wait
from pipeline.results.figures import backtest as past
from pipeline.results.figures import forecast as future
from pipeline.results.figures.backtest import Backtest, Replay, backtest
from pipeline.results.figures.forecast import Ahead, ExpectedFees, Forecast, forecast
from pipeline.results.figures.side_by_side import LEAST_EVENTS
from pipeline.results.figures.waiting import LEAST_RETURNS
from pipeline.results.words import CANT_TELL
from pipeline.teams import money


def exhibits(cohort: Cohort, asked: Mapping[str, str]) -> list[Exhibit]:
    """Return the page's figures; none where nobody ever waited."""
    found = forecast(cohort)
    if not found.waiting and not found.returned:
        return []
    return [to_come(found), held(backtest(cohort))]


def to_come(found: Forecast) -> Exhibit:
    """Returns and fees within so many days."""
    rows = [
        Row((f"returns in {at.days} days", _expected(at), _between(at), f"{at.beyond:,}"))
        for at in found.ahead
    ]
    rows += [
        Row(
            (
                f"fees in {at.days} days, of {count(fee.leads, 'lead')} with a fee in "
                f"{fee.currency}",
                _amount(fee),
                _amounts(fee),
                "",
            )
        )
        for at in found.ahead
        for fee in at.fees
    ]
    return Exhibit(
        name="forecast",
        title="Returns to come",
        said=said(found),
        chart=_drawing(found) if found.told else None,
        tables=(
            Table(
                "Of the leads that wait now",
                ("What", "Expected", "95% predictive interval", "Beyond the record"),
                tuple(rows),
            ),
        ),
        data=Data(
            ("what", "days", "currency", "leads", "expected", "low", "high", "beyond"),
            tuple(_data(found)),
        ),
        rules=future.RULES,
    )


def said(found: Forecast) -> tuple[str, ...]:
    """Say what to expect, or what keeps it from being told."""
    leads, do = count(found.waiting, "lead"), wait(found.waiting)
    if not found.told:
        return (
            f"How many return soon: {CANT_TELL}. {leads} {do}, "
            f"{found.returned:,} returned so far, and {LEAST_RETURNS} are needed.",
        )
    sentences = [
        f"Of {leads} that {do}, {_expected(at)} may return within {at.days} days: {_between(at)}."
        for at in found.ahead
    ]
    if found.without_fee:
        sentences.append(
            f"{count(found.without_fee, 'waiting lead')} without an expected fee are in the "
            "returns and in no fees."
        )
    return tuple(sentences)


def _data(found: Forecast) -> list[tuple[Value, ...]]:
    rows: list[tuple[Value, ...]] = []
    for at in found.ahead:
        rows.append(
            ("returns", at.days, None, found.waiting, at.expected, at.low, at.high, at.beyond)
        )
        rows += [
            ("fees", at.days, fee.currency, fee.leads, fee.expected, fee.low, fee.high, None)
            for fee in at.fees
        ]
    return rows


def _drawing(found: Forecast) -> Marks:
    highest = max(at.high or 0 for at in found.ahead)
    return side_by_side(
        "forecast",
        "Returns to come",
        "A dot for the expected number of returns, a line for its 95% predictive interval. "
        + " ".join(
            f"Within {at.days} days: {_expected(at)}, {_between(at)}." for at in found.ahead
        ),
        [
            Mark(
                f"within {at.days} days",
                f"{found.waiting:,} {wait(found.waiting)}",
                at.expected,
                at.low,
                at.high,
            )
            for at in found.ahead
        ],
        whole_values(0, highest),
        lambda value: f"{value:.0f}",
        dot="expected returns",
        line="95% predictive interval",
    )


def _expected(at: Ahead) -> str:
    if at.expected is None:
        return CANT_TELL
    floor = "at least " if at.beyond else ""
    return f"{floor}{at.expected:.1f}"


def _between(at: Ahead) -> str:
    return CANT_TELL if at.low is None or at.high is None else f"{at.low:,} to {at.high:,}"


def _amount(fee: ExpectedFees) -> str:
    return CANT_TELL if fee.expected is None else money.about(fee.expected, fee.currency)


def _amounts(fee: ExpectedFees) -> str:
    if fee.low is None or fee.high is None:
        return CANT_TELL
    return f"{money.about(fee.low, fee.currency)} to {money.about(fee.high, fee.currency)}"


def held(found: Backtest) -> Exhibit:
    """Each past quarter's forecast, and what came."""
    told = [one for one in found.replays if one.held is not None]
    return Exhibit(
        name="backtest",
        title="How well such forecasts have held",
        said=_held(found),
        chart=side_by_side(
            "backtest",
            "Past quarters: forecast and what came",
            "A dot for the returns expected on the first day of each quarter, a line for the "
            "interval, a ring for the returns of the 90 days after it. "
            + " ".join(f"{_quarter(one)}: {_replay(one)}." for one in told),
            [
                Mark(_quarter(one), "", one.expected, one.low, one.high, float(one.returned))
                for one in told
            ],
            whole_values(0, max(max(one.high or 0, one.returned) for one in told)),
            lambda value: f"{value:.0f}",
            dot="expected on that day",
            line="95% predictive interval",
            ring="returned within 90 days",
            beside=True,
        )
        if told
        else None,
        tables=(
            Table(
                "Forecasts made on the first day of past quarters",
                ("Day", "Waited", "Expected", "Interval", "Returned", "Held"),
                tuple(
                    Row(
                        (
                            _quarter(one),
                            f"{one.waiting:,}",
                            CANT_TELL if one.expected is None else f"{one.expected:.1f}",
                            CANT_TELL if one.low is None else f"{one.low:,} to {one.high:,}",
                            f"{one.returned:,}",
                            {True: "held", False: "missed", None: "not counted"}[one.held],
                        )
                    )
                    for one in found.replays
                ),
                "No quarter is over since the first lead said “no budget yet”.",
            ),
        ),
        data=Data(
            ("day", "waiting", "expected", "low", "high", "returned", "held"),
            tuple(
                (
                    one.day,
                    one.waiting,
                    one.expected,
                    one.low,
                    one.high,
                    one.returned,
                    {True: "yes", False: "no", None: None}[one.held],
                )
                for one in found.replays
            ),
        ),
        rules=past.RULES,
    )


def _held(found: Backtest) -> tuple[str, ...]:
    if not found.enough:
        return (
            f"Whether such forecasts are sound: {CANT_TELL}. {count(found.told, 'past quarter')} "
            f"could be replayed, {found.held:,} of them held; {LEAST_EVENTS} are needed.",
        )
    return (
        f"In {found.held:,} of {count(found.told, 'past quarter')} the interval held: "
        f"{share(found.held_rate.estimate)} (95% interval "
        f"{words.limits_in_words(found.held_rate)}). About 95% should.",
    )


def _quarter(one: Replay) -> str:
    return date_format(one.day, "j M Y")


def _replay(one: Replay) -> str:
    return f"expected {one.expected:.1f}, {one.low} to {one.high}; {one.returned} returned"
