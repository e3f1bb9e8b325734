"""The figures as JSON. Keys and their order are a promise to whoever reads them."""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from pipeline.results.work_as_json import named, work_as_json

if TYPE_CHECKING:
    # The figures load NumPy; a start that shows none goes without.
    from pipeline.results.figures.conversion import Conversion, Group
    from pipeline.results.figures.readings import IncidenceAt
    from pipeline.results.figures.results import Results
    from pipeline.results.figures.returns import (
        DelayedReturn,
        EarnedPage,
        ReturnShare,
        SinceFunding,
    )
    from pipeline.results.figures.side_by_side import SideBySide
    from pipeline.results.figures.work import Work

COUNTS = ("name", "leads_with_session", "engaged", "open", "closed", "reopened")


def as_json(team_slug: str, results: Results, work: Work) -> str:
    """Return the figures as JSON text, `null` where something can't be told."""
    content = {
        "team": team_slug,
        "as_of": results.as_of,
        "formats": [_group(group) for group in results.formats],
        "sources": [_group(group) for group in results.sources],
        "overall": {**_group(results.overall), "excluded": results.excluded},
        "delayed_return": _delayed_return(results.delayed_return),
        "filters": results.filters.in_words or None,
        "conversion_within": _conversion_within(results),
        "side_by_side": {found.grouping.key: _side_by_side(found) for found in results.compared()},
        "waits": _waits(results.delayed_return),
        "since_funding": _since_funding(results.since_funding),
        "return_share": _return_share(results.return_share),
        "returns": _returns(results.earned),
        **work_as_json(work),
    }
    return json.dumps(content, indent=2, ensure_ascii=False, allow_nan=False, default=_plain)


def _plain(value: object) -> str:
    """Days by ISO 8601, amounts with all their digits: a float would round them."""
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return format(value, "f")
    raise TypeError(f"{type(value).__name__} has no place in JSON")


def _group(group: Group) -> dict[str, Any]:
    counts = {name: getattr(group, name) for name in COUNTS}
    return {**counts, "conversion": asdict(group.conversion)}


def _at(found: IncidenceAt) -> dict[str, Any]:
    content = asdict(found)
    del content["effective"]
    return content


def _delayed_return(delayed: DelayedReturn) -> dict[str, Any]:
    return {
        "started": delayed.started,
        "returned": delayed.returned,
        "waiting": delayed.waiting,
        "closed": delayed.closed,
        "incidence": [_at(at) for at in delayed.incidence],
    }


def _conversion_within(results: Results) -> dict[str, Any]:
    def groups(found: Conversion) -> list[dict[str, Any]]:
        return [
            {"name": group.name, "within": [_at(at) for at in group.within]}
            for group in found.groups
        ]

    return {
        "overall": [_at(at) for at in results.overall.within],
        "formats": groups(results.by_format),
        "sources": groups(results.by_source),
        "attendees": groups(results.by_attendees),
    }


def _side_by_side(found: SideBySide) -> dict[str, Any]:
    return {
        "days": found.days,
        "groups": [
            {
                "name": side.name,
                "raw": _at(side.raw),
                "engaged": side.engaged,
                "followed": side.followed,
                "followed_engaged": side.followed_engaged,
                "drawn_together": {
                    "estimate": side.shrunken,
                    "low": side.shrunken_low,
                    "high": side.shrunken_high,
                },
            }
            for side in found.sides
        ],
        "pairs": [asdict(pair) for pair in found.pairs],
        "too_few_at_risk": list(found.too_few_at_risk),
        "too_few_engagements": list(found.too_few_events),
    }


def _waits(delayed: DelayedReturn) -> dict[str, Any]:
    return {
        "off_curve": delayed.off_curve,
        "closing": [_at(at) for at in delayed.closing],
        "median": asdict(delayed.median),
        "mean": None if delayed.mean is None else asdict(delayed.mean),
    }


def _since_funding(found: SinceFunding) -> dict[str, Any]:
    return {
        "funded": found.funded,
        "engaged": found.engaged,
        "waiting": found.waiting,
        "closed": found.closed,
        "off_curve": found.off_curve,
        "incidence": [_at(at) for at in found.incidence],
        "median": asdict(found.median),
    }


def _return_share(found: ReturnShare) -> dict[str, Any]:
    return {
        "engaged": found.engaged,
        "returned": found.returned,
        "share": asdict(found.share),
        "fees": [asdict(fee) for fee in found.fees],
        "without_fee": found.without_fee,
    }


def _returns(found: EarnedPage) -> dict[str, Any]:
    return {"total": found.total, "newest": [named(one._asdict()) for one in found.returns]}
