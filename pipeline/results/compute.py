"""From what came of each lead to a team's figures."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Sequence
from datetime import date
from math import isnan

from pipeline.results.figures import LEVEL, DelayedReturn, Group, IncidenceAt, Rate, Results
from pipeline.results.outcomes import Cause, Facts, Outcome, Wait, outcome, wait
from pipeline.stats.incidence import Incidence, cumulative_incidence
from pipeline.stats.proportions import wilson_interval

# Days since "no budget yet" at which the incidence of return is read.
HORIZONS = (90, 180, 365, 730)


def results(leads: Iterable[Facts], as_of: date) -> Results:
    """Return the figures of these leads, whose facts are those of `as_of`."""
    decided = [(lead, outcome(lead)) for lead in leads]
    counted = [(lead, came) for lead, came in decided if came is not Outcome.EXCLUDED]
    return Results(
        as_of=as_of,
        formats=_groups(counted, lambda lead: lead.format),
        sources=_groups(counted, lambda lead: lead.source),
        overall=_group(None, [came for _, came in counted]),
        excluded=len(decided) - len(counted),
        delayed_return=_delayed_return(
            [waited for lead, _ in counted if (waited := wait(lead, as_of))]
        ),
    )


def _groups(
    counted: Sequence[tuple[Facts, Outcome]], name_of: Callable[[Facts], str | None]
) -> tuple[Group, ...]:
    """One group a name, in code-point order, the nameless last."""
    by_name: dict[str | None, list[Outcome]] = defaultdict(list)
    for lead, came in counted:
        by_name[name_of(lead)].append(came)
    names = sorted(by_name, key=lambda name: (name is None, name or ""))
    return tuple(_group(name, by_name[name]) for name in names)


def _group(name: str | None, outcomes: list[Outcome]) -> Group:
    count = Counter(outcomes)
    return Group(
        name=name,
        leads_with_session=len(outcomes),
        engaged=count[Outcome.ENGAGED],
        open=count[Outcome.OPEN],
        closed=count[Outcome.CLOSED] + count[Outcome.REOPENED],
        reopened=count[Outcome.REOPENED],
        conversion=_rate(count[Outcome.ENGAGED], len(outcomes)),
    )


def _rate(part: int, whole: int) -> Rate:
    if not whole:
        return Rate(None, None, None)
    return Rate(part / whole, *wilson_interval(part, whole, LEVEL))


def _delayed_return(waits: list[Wait]) -> DelayedReturn:
    count = Counter(waited.cause for waited in waits)
    followed = [waited for waited in waits if waited.on_curve]
    curve = cumulative_incidence(
        [waited.days for waited in followed],
        [waited.cause for waited in followed],
        entry=[waited.entry for waited in followed],
        level=LEVEL,
    )
    return DelayedReturn(
        started=len(waits),
        returned=count[Cause.RETURNED],
        waiting=count[Cause.WAITING],
        closed=count[Cause.CLOSED],
        off_curve=len(waits) - len(followed),
        incidence=tuple(_read(curve, days) for days in HORIZONS),
    )


def _read(curve: Incidence, days: int) -> IncidenceAt:
    told = (None if isnan(value) else value for value in curve.at(days, Cause.RETURNED))
    estimate, se, low, high = told
    return IncidenceAt(days, estimate, se, low, high, curve.at_risk_on(days))
