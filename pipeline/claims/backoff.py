"""How long to wait before the next attempt."""

from __future__ import annotations

import random
from datetime import timedelta

FIRST = timedelta(minutes=1)
LONGEST = timedelta(hours=8)


def longest_wait(attempts: int) -> timedelta:
    """Return the wait after so many failed attempts (1 or more) without jitter.

    One minute, doubled with each attempt, eight hours at most.
    """
    # 512 minutes already pass the longest wait
    return min(FIRST * (1 << min(attempts - 1, 9)), LONGEST)


def wait(attempts: int) -> timedelta:
    """Return the wait after so many failed attempts: half of it certain, half by chance.

    Chance spreads out the many rows that failed at one moment.
    """
    whole = longest_wait(attempts)
    return whole / 2 + whole / 2 * random.random()
