"""Between what a trigger wrote down and what a field holds."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import Any

from django.db import models


def as_stored(field: models.Field[Any, Any], raw: Any) -> Any:
    """Return the value that ``field`` held, from what the trigger wrote of its column."""
    if raw is None:
        return None
    if isinstance(field, models.ForeignKey):
        return field.target_field.to_python(raw)
    if isinstance(field, models.JSONField):
        return json.loads(raw) if isinstance(raw, str) else raw
    if isinstance(field, models.DecimalField):
        return field.to_python(str(raw))
    if isinstance(field, models.DateTimeField):
        # SQLite keeps moments without a zone, in UTC.
        moment = datetime.fromisoformat(str(raw))
        return moment if moment.tzinfo else moment.replace(tzinfo=UTC)
    return field.to_python(raw)
