"""Delayed return: the curve, how long it takes, what it brings, and which session earned it."""

from __future__ import annotations

from collections.abc import Mapping

from pipeline.results import returning_words, words
from pipeline.results.cohort import Cohort
from pipeline.results.exhibits.brought import EARNED, FROM, part_of_all, who_earned
from pipeline.results.exhibits.curves import drawing, steps
from pipeline.results.exhibits.exhibit import Data, Exhibit, Row, Table
from pipeline.results.exhibits.saying import are, between, count, days, days_between, share
from pipeline.results.figures.readings import IncidenceAt, Mean, Median
from pipeline.results.figures.returns import (
    FUNDED_HORIZONS,
    HORIZONS,
    PAGE,
    DelayedReturn,
    SinceFunding,
    delayed_return,
    return_share,
    returns_page,
    since_funding,
)


def exhibits(cohort: Cohort, asked: Mapping[str, str]) -> list[Exhibit]:
    """Return the page's figures; none where nobody said "no budget yet"."""
    found = delayed_return(cohort)
    if not found.started:
        return []
    whole = asked.get("as") == f"{EARNED}.csv"
    offset = 0 if whole else _offset(asked.get(FROM, ""), found.returned)
    page = returns_page(
        cohort, found.returned, offset=offset, limit=found.returned if whole else PAGE
    )
    return [
        returning(found),
        how_long(found),
        after_funding(since_funding(cohort)),
        part_of_all(return_share(cohort)),
        who_earned(page),
    ]


def _offset(told: str, total: int) -> int:
    """Where a page begins: a multiple of PAGE among the returns; the first where that is none."""
    number = int(told) if told.isascii() and told.isdecimal() and len(told) < 10 else 0
    return number if number < total and number % PAGE == 0 else 0


def returning(found: DelayedReturn) -> Exhibit:
    """The share that returned within so many days, and the share that closed first."""
    said = [
        f"{count(found.started, 'lead')} said “no budget yet” after the session. Of these "
        f"{found.returned:,} returned, {found.waiting:,} {are(found.waiting)} waiting and "
        f"{found.closed:,} closed.",
        _told_most(found.incidence, "had returned", "“no budget yet”"),
    ]
    if found.off_curve:
        said.append(
            f"{found.off_curve} of them {'was' if found.off_curve == 1 else 'were'} followed only "
            "since a day on or after their last: counted above, not in the curve."
        )
    rows = tuple(
        Row(
            (
                f"{at.days} days",
                share(at.estimate),
                words.return_limits_in_words(at),
                share(other.estimate),
                f"{at.at_risk:,}",
            )
        )
        for at, other in zip(found.incidence, found.closing, strict=True)
    )
    return Exhibit(
        name="return",
        title="How many return, and when",
        said=tuple(said),
        chart=drawing(
            "return",
            "Returned by days since “no budget yet”",
            "Steps of the share that had returned, and of the share that had closed first, by "
            "days since “no budget yet”, with the 95% interval of returned. "
            + _readings(found.incidence),
            found.curve,
            own="returned",
            other="closed first",
        ),
        tables=(
            Table(
                "Share that returned, by days since “no budget yet”",
                ("Within", "Returned", "95% interval", "Closed first", "At risk"),
                rows,
            ),
        ),
        data=steps(found.curve, HORIZONS, "returned", "closed"),
        rules=(words.DELAYED_RETURN, words.INCIDENCE, words.WHEN_TOLD),
    )


def how_long(found: DelayedReturn) -> Exhibit:
    """Median where reached, and how the days of a wait are spent on average."""
    median, mean = found.median, found.mean
    if mean is None:
        said = "How the days of a wait are spent: can't tell yet, nobody was followed for 90 days."
        parts: tuple[tuple[str, Mean], ...] = ()
    else:
        said = (
            f"Of the first {mean.until} days after “no budget yet” a lead waits "
            f"{days(mean.waiting.estimate)} on average; {days(mean.returned.estimate)} come "
            f"after its return, {days(mean.closed.estimate)} after its closing."
        )
        parts = (
            ("waiting", mean.waiting),
            ("returned", mean.returned),
            ("closed", mean.closed),
        )
    rows = [
        Row(
            (
                f"{name}, of the first {mean.until} days" if mean else name,
                days(part.estimate),
                days_between(part.low, part.high),
            )
        )
        for name, part in parts
    ]
    rows.insert(0, Row(("half had returned by", _half(median), _half_between(median))))
    return Exhibit(
        name="waiting-time",
        title="How long it takes",
        said=(_median_said(median), said),
        tables=(
            Table("Days since “no budget yet”", ("What", "Days", "95% interval"), tuple(rows)),
        ),
        data=Data(
            ("what", "until", "days", "low", "high"),
            (
                ("half returned", None, median.day, median.low, median.high),
                *(
                    (name, mean.until if mean else None, part.estimate, part.low, part.high)
                    for name, part in parts
                ),
            ),
        ),
        rules=(returning_words.HOW_LONG,),
    )


def after_funding(found: SinceFunding) -> Exhibit:
    """From the day on which money arrived to the engagement."""
    rows = tuple(
        Row(
            (
                f"{at.days} days",
                share(at.estimate),
                words.return_limits_in_words(at),
                f"{at.at_risk:,}",
            )
        )
        for at in found.incidence
    )
    said = (
        f"Money arrived at {count(found.funded, 'lead')} while waiting. Of these "
        f"{found.engaged:,} engaged, {found.waiting:,} {are(found.waiting)} waiting and "
        f"{found.closed:,} closed.",
        _told_most(found.incidence, "had engaged", "the money arrived"),
        _median_said(found.median, "engaged"),
    )
    return Exhibit(
        name="funding",
        title="From funding to engagement",
        said=said if found.funded else ("No money has arrived yet: can't tell yet.",),
        chart=drawing(
            "funding",
            "Engaged by days since the money arrived",
            "Steps of the share that had engaged, and of the share that had closed first, by days "
            f"since funding, with the 95% interval of engaged. {_readings(found.incidence)}",
            found.curve,
            own="engaged",
            other="closed first",
        ),
        tables=(
            Table(
                "Share that engaged, by days since the money arrived",
                ("Within", "Engaged", "95% interval", "At risk"),
                rows if found.funded else (),
                "Note funding on a lead's page when money arrives.",
            ),
        ),
        data=steps(found.curve, FUNDED_HORIZONS, "engaged", "closed"),
        rules=(returning_words.SINCE_FUNDING, words.WHEN_TOLD),
    )


def _readings(incidence: tuple[IncidenceAt, ...]) -> str:
    return " ".join(
        f"Within {at.days} days: {share(at.estimate)}, {words.return_limits_in_words(at)}."
        for at in incidence
    )


def _told_most(incidence: tuple[IncidenceAt, ...], had: str, since: str) -> str:
    """The longest time within which it can be told."""
    told = [at for at in incidence if at.told]
    if not told:
        return f"How many {had} by a day since {since}: can't tell yet."
    at = told[-1]
    low, high = (at.low, at.high) if at.low is not None else at.effective or (None, None)
    return (
        f"Within {at.days} days of {since} {share(at.estimate)} {had} (95% interval "
        f"{between(low, high)})."
    )


def _median_said(median: Median, what: str = "returned") -> str:
    if median.day is None:
        return f"Half have not {what} yet: no median."
    return (
        f"Half had {what} by day {median.day:,} (95% interval "
        f"{days_between(median.low, median.high)})."
    )


def _half(median: Median) -> str:
    return "not reached" if median.day is None else f"day {median.day:,}"


def _half_between(median: Median) -> str:
    return "none" if median.day is None else days_between(median.low, median.high)
