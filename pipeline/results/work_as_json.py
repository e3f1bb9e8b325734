"""The figures of the team's work as JSON: hours, promises, who waits, what to expect, the crew."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    # The figures load NumPy; a start that shows none goes without.
    from pipeline.results.figures.backtest import Backtest
    from pipeline.results.figures.crew import Crew
    from pipeline.results.figures.effort import Effort, FeesAnHour, Ratio, Weeks
    from pipeline.results.figures.forecast import Forecast
    from pipeline.results.figures.promises import AfterSending, Promises
    from pipeline.results.figures.readings import IncidenceAt
    from pipeline.results.figures.waiting import Listed, Waiting
    from pipeline.results.figures.work import Work


def named(lead: dict[str, Any]) -> dict[str, Any]:
    """Tell a lead by its own reference: keys of rows differ from one database to the next."""
    del lead["lead"], lead["session"]
    return {"lead_ref": lead.pop("reference"), **lead}


def work_as_json(work: Work) -> dict[str, Any]:
    """Return the figures by their keys; `crew` only where it was computed."""
    content = {
        "effort": _effort(work.effort),
        "promises": _promises(work.promises),
        "waiting": _waiting(work.waiting),
        "forecast": _forecast(work.forecast),
        "backtest": _backtest(work.backtest),
    }
    if work.crew is not None:
        content["crew"] = _crew(work.crew)
    return content


def _effort(found: Effort) -> dict[str, Any]:
    converted = None if found.converted is None else asdict(found.converted)
    return {
        "leads": found.leads,
        "complete": found.complete,
        "engaged": found.engaged,
        "without_fee": found.without_fee,
        "sessions": found.sessions,
        "noted": found.noted,
        "minutes": found.minutes,
        "hours_a_session": _ratio(found.hours_a_session),
        "hours_an_engagement": _ratio(found.hours_an_engagement),
        "hours_a_fee": _ratio(found.hours_a_fee),
        "fees_an_hour": [_fees(fees) for fees in found.fees_an_hour],
        "converted": converted
        and {
            "currency": converted["currency"],
            "total": converted["total"],
            "an_hour": _ratio(found.converted_an_hour.an_hour)
            if found.converted_an_hour
            else None,
            "rates": converted["used"],
            "missing": [
                {"currency": currency, "month": month} for currency, month in converted["missing"]
            ],
        },
        "weeks": _weeks(found.weeks),
    }


def _fees(found: FeesAnHour) -> dict[str, Any]:
    return {
        "currency": found.currency,
        "fees": found.fees,
        "total": found.total,
        "an_hour": _ratio(found.an_hour),
    }


def _ratio(found: Ratio) -> dict[str, Any]:
    return asdict(found)


def _weeks(found: Weeks) -> dict[str, Any]:
    return {
        "limit_minutes": found.limit,
        "over": found.over,
        "median_minutes": found.usual,
        "weeks": [asdict(week) for week in found.weeks],
    }


def _promises(found: Promises) -> dict[str, Any]:
    counts = ("promised", "sent", "waived", "owed", "due", "on_time")
    return {
        **{name: getattr(found, name) for name in counts},
        "on_time_rate": asdict(found.on_time_rate),
        "working_days_to_sending": asdict(found.median),
        "sessions": {
            name: getattr(found, name) for name in ("held", "missed", "cancelled", "unmarked")
        },
        "missed_rate": asdict(found.missed_rate),
        "after_sending": _after_sending(found.after_sending),
    }


def _after_sending(found: AfterSending) -> dict[str, Any]:
    return {
        "days": found.days,
        "not_sent": found.not_sent,
        "decided_before": found.decided,
        "groups": [
            {
                "sent_from_day": band.least,
                "sent_to_day": band.most,
                "leads": band.leads,
                "engaged": band.engaged,
                "within": None if band.within is None else _at(band.within),
            }
            for band in found.bands
        ],
    }


def _at(found: IncidenceAt) -> dict[str, Any]:
    content = asdict(found)
    del content["effective"]
    return content


def _waiting(found: Waiting) -> dict[str, Any]:
    stopping = asdict(found.stopping)
    return {
        "waiting": found.waiting,
        "returned": found.returned,
        "told": found.told,
        "likeliest_worth_first": [_listed(one) for one in found.leads],
        "writing_stops_paying": {
            "least_chance": found.stopping.threshold / 100,
            "after_days": stopping["day"],
            "may_pay_again_from": stopping["again"],
            "told_until": stopping["told_until"],
            "leads_past_it": stopping["past"],
        },
    }


def _listed(one: Listed) -> dict[str, Any]:
    return {**named(one.lead._asdict()), "owner": one.owner, "chance": asdict(one.chance),
            "worth": one.worth}  # fmt: skip


def _forecast(found: Forecast) -> dict[str, Any]:
    return {
        "waiting": found.waiting,
        "returned": found.returned,
        "without_fee": found.without_fee,
        "told": found.told,
        "ahead": [asdict(ahead) for ahead in found.ahead],
    }


def _backtest(found: Backtest) -> dict[str, Any]:
    return {
        "days": found.days,
        "level": found.level,
        "quarters": [{**asdict(one), "held": one.held} for one in found.replays],
        "told": found.told,
        "held": found.held,
        "held_rate": asdict(found.held_rate),
    }


def _crew(found: Crew) -> dict[str, Any]:
    return {
        "days": found.compared.days,
        "groups": [
            {
                "name": group.name,
                "leads_with_session": group.leads_with_session,
                "engaged": group.engaged,
                "conversion": asdict(group.conversion),
                "within": [_at(at) for at in group.within],
            }
            for group in found.conversion.groups
        ],
        "pairs": [asdict(pair) for pair in found.compared.pairs],
    }
