"""What returns brought, and which session earned each."""

from __future__ import annotations

from datetime import date

from django.utils.formats import date_format

from pipeline.results import returning_words, words
from pipeline.results.charts.marks import Mark, side_by_side
from pipeline.results.charts.scale import share_label, share_values
from pipeline.results.exhibits.exhibit import Data, Exhibit, Pages, Row, Table
from pipeline.results.exhibits.saying import count, have, share
from pipeline.results.figures.readings import Rate
from pipeline.results.figures.returns import PAGE, EarnedPage, ReturnShare
from pipeline.teams import money

# What the list of returns is called in an address, and the parameter that says where it begins.
EARNED, FROM = "earned", "from"


def part_of_all(found: ReturnShare) -> Exhibit:
    """What part of engagements, and of the fees in each currency, were returns."""
    parts: list[tuple[str, str, Rate]] = [
        ("engagements", f"{found.returned:,} of {found.engaged:,}", found.share)
    ]
    parts += [
        (
            f"fees in {fee.currency}",
            f"{money.show(fee.of_returns, fee.currency)} of {money.show(fee.total, fee.currency)}",
            fee.share,
        )
        for fee in found.fees
    ]
    said = [
        f"{found.returned:,} of {count(found.engaged, 'engagement')} were returns: "
        f"{share(found.share.estimate)} (95% interval {words.limits_in_words(found.share)})."
        if found.engaged
        else "Nobody has engaged yet: can't tell yet."
    ]
    if found.without_fee:
        said.append(
            f"{count(found.without_fee, 'engagement')} {have(found.without_fee)} no fee noted: "
            "in no sum of fees."
        )
    marks = [
        Mark(
            name,
            note if number == 0 else "",
            rate.estimate,
            rate.low,
            rate.high,
        )
        for number, (name, note, rate) in enumerate(parts)
    ]
    return Exhibit(
        name="return-share",
        title="What returns are worth",
        said=tuple(said),
        chart=side_by_side(
            "return-share",
            "Returns as a share of everything engaged",
            "A dot for the share of returns, a line for its 95% interval. "
            + " ".join(
                f"{name}: {share(rate.estimate)} ({note}), {words.limits_in_words(rate)}."
                for name, note, rate in parts
            ),
            marks,
            share_values(1.0),
            share_label,
            dot="share that were returns",
            line="95% interval",
        )
        if found.engaged
        else None,
        tables=(
            Table(
                "Returns as a share",
                ("Of all", "Returns", "Share", "95% interval"),
                tuple(
                    Row((name, note, share(rate.estimate), words.limits_in_words(rate)))
                    for name, note, rate in parts
                ),
            ),
        ),
        data=Data(
            tuple("of currency returns total share low high".split()),
            (
                (
                    "engagements",
                    None,
                    found.returned,
                    found.engaged,
                    found.share.estimate,
                    found.share.low,
                    found.share.high,
                ),
                *(
                    (
                        "fees",
                        fee.currency,
                        fee.of_returns,
                        fee.total,
                        fee.share.estimate,
                        fee.share.low,
                        fee.share.high,
                    )
                    for fee in found.fees
                ),
            ),
        ),
        rules=(returning_words.RETURN_SHARE,),
    )


def who_earned(page: EarnedPage) -> Exhibit:
    """Each return with the session that earned it, the newest first."""
    rows = tuple(
        Row(
            (
                one.organisation,
                f"{one.format or 'session'}, {_day(one.held_on)}",
                _day(one.no_budget_on),
                _day(one.funded_on) if one.funded_on else "not noted",
                f"{_day(one.engaged_on)}, after {count(one.waited, 'day')}",
                money.show(one.fee, one.currency or "") or "not noted",
            ),
            lead=one.lead,
        )
        for one in page.returns
    )
    last = page.offset + len(page.returns)
    more = len(page.returns) < page.total
    return Exhibit(
        name=EARNED,
        title="The session that earned each return",
        said=(f"Returns {page.offset + 1} to {last} of {page.total}, the newest first.",)
        if more
        else (),
        tables=(
            Table(
                "Returns and their sessions",
                ("Lead", "Session", "No budget yet", "Money arrived", "Engaged", "Fee"),
                rows,
                "Nobody has returned yet.",
            ),
        ),
        data=Data(
            tuple(
                "lead organisation format held_on no_budget_on funded_on engaged_on waited_days "
                "fee currency".split()
            ),
            tuple(
                (
                    one.lead,
                    one.organisation,
                    one.format,
                    one.held_on,
                    one.no_budget_on,
                    one.funded_on,
                    one.engaged_on,
                    one.waited,
                    one.fee,
                    one.currency,
                )
                for one in page.returns
            ),
        ),
        rules=(returning_words.EARNED,),
        pages=Pages(
            FROM,
            page.offset - PAGE if page.offset else None,
            last if last < page.total else None,
        )
        if more
        else None,
    )


def _day(value: date) -> str:
    return date_format(value, "j M Y")
