"""Name the queries that something makes."""

from __future__ import annotations

import re
from collections.abc import Callable

from django.db import connection
from django.test.utils import CaptureQueriesContext


def tables(work: Callable[[], object]) -> list[str]:
    """Return the first table of each query that ``work`` makes, in order."""
    with CaptureQueriesContext(connection) as caught:
        work()
    found = [re.search(r'(?:FROM|INTO|UPDATE) "(\w+)"', query["sql"]) for query in caught]
    return [match[1] for match in found if match]
