"""A disk that is full for SQLite while the file that ``FAULTS_FULL`` names is there."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from django.db.backends.signals import connection_created


def watch() -> None:
    """Have each new connection of this process find the disk full, or not."""
    connection_created.connect(_limit)


def _limit(connection: Any, **_: Any) -> None:
    marker = os.environ.get("FAULTS_FULL")
    if marker and connection.vendor == "sqlite" and Path(marker).exists():
        with connection.cursor() as cursor:
            # Never less than there are already: none can be added.
            cursor.execute("PRAGMA max_page_count = 1")
