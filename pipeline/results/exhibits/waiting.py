"""Whom to write to now, and from when on writing stops paying."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from django.utils.formats import date_format

from pipeline.results.cohort import Cohort
from pipeline.results.exhibits.exhibit import Data, Exhibit, Orders, Pages, Row, Table
from pipeline.results.exhibits.saying import count, share, wait
from pipeline.results.figures.waiting import (
    HORIZON,
    LEAST_RETURNS,
    PAGE,
    RULES,
    STOPPING,
    Chance,
    Listed,
    Stopping,
    Waiting,
    waiting,
)
from pipeline.results.questions.waiting import Order, WaitingLead
from pipeline.results.words import CANT_TELL, percent
from pipeline.teams import money

# What the list is called in an address, and the parameters that say how it stands there.
LIST, FROM, ORDER = "waiting", "from", "order"
ALL = 1_000_000
ORDERS = {
    Order.WORTH: "chance × expected fee",
    Order.CHANCE: "chance",
    Order.MONTH: "month in which money is expected",
}


def exhibits(cohort: Cohort, asked: Mapping[str, str]) -> list[Exhibit]:
    """Return the page's figures; none where nobody ever waited."""
    whole = asked.get("as") == f"{LIST}.csv"
    found = waiting(
        cohort,
        _order(asked.get(ORDER, "")),
        offset=0 if whole else _offset(asked.get(FROM, "")),
        limit=ALL if whole else PAGE,
    )
    if not found.waiting and not found.curve.days.size:
        return []
    return [whom(found), when_to_stop(found)]


def _order(told: str) -> Order:
    return next((order for order in Order if order.value == told), Order.WORTH)


def _offset(told: str) -> int:
    number = int(told) if told.isascii() and told.isdecimal() and len(told) < 10 else 0
    return number if number % PAGE == 0 else 0


def whom(found: Waiting) -> Exhibit:
    """The waiting leads in the order asked for."""
    last = found.offset + len(found.leads)
    more = found.waiting > len(found.leads)
    said = [
        f"{count(found.waiting, 'lead')} said “no budget yet” and still {wait(found.waiting)}."
    ]
    if not found.told:
        said.append(
            f"Who is likely to return: {CANT_TELL}. {count(found.returned, 'lead')} returned so "
            f"far, and {LEAST_RETURNS} are needed. Until then the list goes by what is known."
        )
    if more and found.leads:
        said.append(f"Leads {found.offset + 1} to {last} of {found.waiting:,}.")
    return Exhibit(
        name=LIST,
        title="Who waits",
        said=tuple(said),
        tables=(
            Table(
                f"Waiting leads, by {ORDERS[found.order]}",
                (
                    "Lead",
                    "Waiting",
                    f"Returns in {HORIZON} days",
                    "Expected fee",
                    "Chance × fee",
                    "Money expected",
                    "Looked after by",
                ),
                tuple(_row(one) for one in found.leads),
                "Nobody waits on this page.",
            ),
        ),
        data=Data(
            tuple(
                "lead organisation looked_after_by held_on no_budget_on waited_days funded_on "
                "expected_on chance low high expected_fee currency worth".split()
            ),
            tuple(
                (
                    one.lead.lead,
                    one.lead.organisation,
                    one.owner,
                    one.lead.held_on,
                    one.lead.no_budget_on,
                    one.lead.waited,
                    one.lead.funded_on,
                    one.lead.expected_on,
                    one.chance.estimate,
                    one.chance.low,
                    one.chance.high,
                    one.lead.fee,
                    one.lead.currency,
                    one.worth,
                )
                for one in found.leads
            ),
        ),
        rules=RULES,
        orders=Orders(
            ORDER,
            tuple((order.value, words, order is found.order) for order, words in ORDERS.items()),
        ),
        pages=Pages(
            FROM,
            max(found.offset - PAGE, 0) if found.offset else None,
            last if found.leads and last < found.waiting else None,
        )
        if more
        else None,
    )


def _row(one: Listed) -> Row:
    lead = one.lead
    return Row(
        (
            lead.organisation,
            f"{count(lead.waited, 'day')}, since {_day(lead.no_budget_on)}",
            chance_in_words(one.chance),
            money.show(lead.fee, lead.currency) or "not noted",
            money.about(one.worth, lead.currency) if one.worth is not None else CANT_TELL,
            _money(lead),
            one.owner or "nobody",
        ),
        lead=lead.lead,
    )


def chance_in_words(chance: Chance) -> str:
    """Return ``8% (3% to 18%)``, or that it can't be told."""
    if chance.estimate is None:
        return CANT_TELL
    low = "?" if chance.low is None else percent(chance.low)
    high = "?" if chance.high is None else percent(chance.high)
    return f"{share(chance.estimate)} ({low} to {high})"


def _money(lead: WaitingLead) -> str:
    if lead.funded_on:
        return f"arrived on {_day(lead.funded_on)}"
    if lead.expected_on is None:
        return "not known"
    return date_format(lead.expected_on, "F Y" if lead.by_month else "j M Y")


def _day(day: date) -> str:
    return date_format(day, "j M Y")


def when_to_stop(found: Waiting) -> Exhibit:
    """The waiting time from which on the chance is surely under the team's threshold."""
    stopping = found.stopping
    return Exhibit(
        name="stopping",
        title="When writing stops paying",
        said=stopping_in_words(stopping, found.returned),
        tables=(
            Table(
                "Against the team's least chance worth a letter",
                ("What", "So far"),
                (
                    Row((f"least chance within {HORIZON} days", f"{stopping.threshold}%")),
                    Row(("surely under it from", _days_or(stopping.day))),
                    Row(("can be told up to", _days_or(stopping.told_until))),
                ),
            ),
        ),
        data=Data(
            ("threshold_percent", "stops_on_day", "may_pay_again_on_day", "told_until", "past"),
            (
                (
                    stopping.threshold,
                    stopping.day,
                    stopping.again,
                    stopping.told_until,
                    stopping.past,
                ),
            ),
        ),
        rules=STOPPING,
    )


def stopping_in_words(stopping: Stopping, returned: int) -> tuple[str, ...]:
    """Say when writing stops paying, or what keeps it from being told."""
    if stopping.told_until is None and stopping.day is None:
        return (
            f"From when on writing stops paying: {CANT_TELL}. {count(returned, 'lead')} returned "
            f"so far, and nobody was followed {HORIZON} days on.",
        )
    if stopping.day is None:
        return (
            f"From when on writing stops paying: {CANT_TELL}. Up to day {stopping.told_until:,} "
            f"of waiting a chance of {stopping.threshold}% or more fits what was seen.",
        )
    said = [
        f"After {count(stopping.day, 'day')} of waiting the chance to return within {HORIZON} "
        f"days is surely under {stopping.threshold}%. {count(stopping.past or 0, 'lead')} "
        "that still wait have waited so long or longer."
    ]
    if stopping.again is not None:
        said.append(
            f"From day {stopping.again:,} on it may be above it again, as far as can be told."
        )
    return tuple(said)


def _days_or(day: int | None) -> str:
    return CANT_TELL if day is None else f"day {day:,} of waiting"
