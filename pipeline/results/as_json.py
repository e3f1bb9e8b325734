"""The figures as JSON. Keys and their order are a promise to whoever reads them."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import Any

from pipeline.results.figures import DelayedReturn, Results


def as_json(team_slug: str, results: Results) -> str:
    """Return the figures as JSON text, `null` where something can't be told."""
    content = {
        "team": team_slug,
        "as_of": results.as_of.isoformat(),
        "formats": [asdict(group) for group in results.formats],
        "sources": [asdict(group) for group in results.sources],
        "overall": {**asdict(results.overall), "excluded": results.excluded},
        "delayed_return": _delayed_return(results.delayed_return),
    }
    return json.dumps(content, indent=2, ensure_ascii=False, allow_nan=False)


def _delayed_return(delayed: DelayedReturn) -> dict[str, Any]:
    content = asdict(delayed)
    del content["off_curve"]
    return content
