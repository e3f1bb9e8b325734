"""What we learned from all facts so far, and what we can't tell: each figure is in one of them.

A share is called learned where its interval tells anything and it rests on ten: for a share within
so many days, ten leads still followed for so long.
"""

from __future__ import annotations

from collections.abc import Iterator

from pipeline.results import comparing_words, words
from pipeline.results.exhibits.hours import hours, limits
from pipeline.results.exhibits.saying import between, count, share
from pipeline.results.figures.readings import IncidenceAt
from pipeline.results.figures.side_by_side import LEAST_AT_RISK, LEAST_EVENTS, SideBySide
from pipeline.results.figures.waiting import LEAST_RETURNS
from pipeline.results.review.reading import Reading
from pipeline.results.review.review import Line
from pipeline.results.words import CANT_TELL

CANT = CANT_TELL.capitalize()


def learned(reading: Reading) -> tuple[Line, ...]:
    """Return what can be told, each with its count and interval."""
    lines = [*_learned(reading)]
    return tuple(lines) or (Line("Nothing that can be told from luck yet.", "results"),)


def cannot_tell(reading: Reading) -> tuple[Line, ...]:
    """Return what can't be told, each with what is missing."""
    lines = [*_unknown(reading)]
    return tuple(lines) or (Line("Every question asked here has an answer.", "results"),)


def _learned(reading: Reading) -> Iterator[Line]:
    team = reading.formats.overall
    if at := _last_told(team.within):
        yield Line(
            f"Within {at.days} days of their session {share(at.estimate)} of leads engage (95% "
            f"interval {between(at.low, at.high)}; {count(team.leads_with_session, 'lead')}, "
            f"{at.at_risk:,} still followed by then).",
            "results",
        )
    for compared in reading.compared:
        for pair in compared.pairs:
            if pair.told and compared.days is not None:
                yield Line(
                    comparing_words.difference_in_words(pair, compared.days), "results-formats"
                )
    returns = reading.returns
    if at := _last_told(returns.incidence):
        low, high = (at.low, at.high) if at.low is not None else at.effective or (None, None)
        yield Line(
            f"Within {at.days} days of saying “no budget yet” {share(at.estimate)} return (95% "
            f"interval {between(low, high)}; {count(returns.started, 'lead')}, "
            f"{at.at_risk:,} still followed by then).",
            "results-return",
        )
    part = reading.return_share
    if part.share.told and part.engaged >= LEAST_EVENTS:
        yield Line(
            f"{share(part.share.estimate)} of engagements are returns (95% interval "
            f"{words.limits_in_words(part.share)}; {part.returned:,} of {part.engaged:,}).",
            "results-return",
        )
    for ahead in reading.forecast.ahead[:1]:
        if ahead.expected is not None and ahead.low is not None and ahead.high is not None:
            floor = "at least " if ahead.beyond else ""
            yield Line(
                f"Of {count(reading.forecast.waiting, 'waiting lead')} {floor}"
                f"{ahead.expected:.1f} may return within {ahead.days} days (95% predictive "
                f"interval {ahead.low:,} to {ahead.high:,}).",
                "results-forecast",
            )
    yield from _learned_of_work(reading)


def _learned_of_work(reading: Reading) -> Iterator[Line]:
    effort = reading.effort
    engagement = effort.hours_an_engagement
    if engagement.told and engagement.estimate is not None:
        yield Line(
            f"An engagement takes {hours(engagement.estimate)} of free work at most, so far (95% "
            f"interval {limits(engagement, hours)}; {count(engagement.events, 'engagement')}).",
            "results-work",
        )
    for one in effort.fees_an_hour:
        if one.an_hour.told and one.an_hour.estimate is not None:
            yield Line(
                f"A free hour brings at least {one.an_hour.estimate:,.0f} {one.currency}, so far "
                f"(95% interval {limits(one.an_hour, '{:,.0f}'.format)}; "
                f"{count(one.fees, 'fee')}).",
                "results-work",
            )
    kept = reading.promises
    if kept.on_time_rate.told and kept.due >= LEAST_EVENTS:
        yield Line(
            f"{share(kept.on_time_rate.estimate)} of what was promised went out on time (95% "
            f"interval {words.limits_in_words(kept.on_time_rate)}; {kept.on_time:,} of "
            f"{kept.due:,}).",
            "results-work",
        )


def _unknown(reading: Reading) -> Iterator[Line]:
    if missing := _first_untold(reading.formats.overall.within):
        yield Line(
            f"How many leads engage within {missing.days} days of their session: "
            f"{_too_few(missing)}.",
            "results",
        )
    for compared in reading.compared:
        if line := _comparison(compared):
            yield line
    returns = reading.returns
    if returns.started and (missing := _first_untold(returns.incidence)):
        yield Line(
            f"How many return within {missing.days} days of “no budget yet”: {_too_few(missing)}.",
            "results-return",
        )
    if returns.started and returns.median.day is None:
        yield Line(
            "After how long half have returned: no such day so far, and with leads closing there "
            "may never be one.",
            "results-return",
        )
    part = reading.return_share
    if not (part.share.told and part.engaged >= LEAST_EVENTS):
        yield Line(
            f"What part of engagements are returns: {CANT_TELL}, "
            f"{count(part.engaged, 'engagement')} so far.",
            "results-return",
        )
    funded = reading.since_funding
    if funded.funded and not _last_told(funded.incidence):
        yield Line(
            f"How soon a lead engages once its money has arrived: {CANT_TELL}, after "
            f"{count(funded.funded, 'lead')}.",
            "results-return",
        )
    ahead = reading.forecast
    if ahead.waiting and not ahead.told:
        yield Line(
            f"How many of {count(ahead.waiting, 'waiting lead')} return soon, and which: "
            f"{CANT_TELL}, {count(ahead.returned, 'lead')} returned so far and "
            f"{LEAST_RETURNS} are needed.",
            "results-forecast",
        )
    yield from _unknown_of_work(reading)


def _unknown_of_work(reading: Reading) -> Iterator[Line]:
    engagement = reading.effort.hours_an_engagement
    if not engagement.told:
        yield Line(
            f"Whether the free hours pay: {CANT_TELL}, {count(engagement.events, 'engagement')} "
            f"with noted hours and {LEAST_EVENTS} are needed.",
            "results-work",
        )
    kept = reading.promises
    if not (kept.on_time_rate.told and kept.due >= LEAST_EVENTS):
        yield Line(
            f"Whether promises are kept on time: {CANT_TELL}, {count(kept.due, 'promise')} whose "
            "due day is over.",
            "results-work",
        )
    sending = kept.after_sending
    if sending.days is None:
        yield Line(
            f"Whether leads engage more after a quick takeaway: {CANT_TELL}, too few are followed "
            "after a slow one, or after a quick one.",
            "results-work",
        )


def _comparison(compared: SideBySide) -> Line | None:
    """What keeps these groups from being told apart; `None` where some are, or there is one."""
    if any(pair.told for pair in compared.pairs) or len(compared.names) < 2:
        return None
    what = compared.grouping.plural
    said = " ".join(
        sentence
        for sentence in comparing_words.compared_in_words(compared)
        if sentence.startswith(CANT)
    )
    return Line(f"{what.capitalize()}: {said[0].lower()}{said[1:]}", "results-formats")


def _last_told(incidence: tuple[IncidenceAt, ...]) -> IncidenceAt | None:
    return next((at for at in reversed(incidence) if _told(at)), None)


def _first_untold(incidence: tuple[IncidenceAt, ...]) -> IncidenceAt | None:
    """The first day after the last one that can be told."""
    told = [_told(at) for at in incidence]
    last = len(told) - 1 - told[::-1].index(True) if any(told) else -1
    return incidence[last + 1] if last + 1 < len(incidence) else None


def _told(at: IncidenceAt) -> bool:
    return at.told and at.at_risk >= LEAST_AT_RISK


def _too_few(at: IncidenceAt) -> str:
    if at.at_risk < LEAST_AT_RISK:
        followed = count(at.at_risk, "lead") if at.at_risk else "nobody"
        return f"{CANT_TELL}, {followed} still followed for so long and {LEAST_AT_RISK} are needed"
    return f"{CANT_TELL}, the interval is wider than 50 points"
