"""A record to draw from again: many curves at once, each of leads drawn with replacement."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from pipeline.stats.arguments import Decimals, Whole
from pipeline.stats.tally import ever_at_risk

# Resampled counts are held for this many cells at a time, to keep memory flat.
CELLS_AT_ONCE = 2_000_000


@dataclass(frozen=True, eq=False)
class Record:
    """Leads that are alike in day, kind and entry stand in one cell, so a draw is a count a cell.

    All arrays have shape (C,), in order of day. `own` says whether a cell left for the cause in
    question, `gone` whether for any.
    """

    day: Whole
    own: Whole
    gone: Whole
    entry: Whole
    count: Whole

    @property
    def size(self) -> int:
        """How many leads."""
        return int(self.count.sum())

    @property
    def last_day(self) -> int:
        """The last day on which anybody was followed, -1 without leads."""
        return int(self.day[-1]) if len(self.day) else -1

    def chances(self, drawn: Whole, age: Whole, horizon: int) -> Decimals:
        """The chance to leave for the cause within `horizon` days after each age (A,): (R, A).

        `drawn` (R, C) counts how often each cell was drawn, one row a round. An age that nobody
        in a round outlived has chance 0.
        """
        days, first = np.unique(self.day, return_index=True)
        exits = np.add.reduceat(drawn, first, axis=1)
        own = np.add.reduceat(drawn * self.own, first, axis=1)
        gone = np.add.reduceat(drawn * self.gone, first, axis=1)
        at_risk = self._entered(drawn, days) - np.cumsum(exits, axis=1) + exits

        size = np.maximum(at_risk, 1)
        survival = _from_the_start(np.cumprod(1 - gone / size, axis=1), 1.0)
        incidence = _from_the_start(np.cumsum(survival[:, :-1] * own / size, axis=1), 0.0)
        now = np.searchsorted(days, age, side="right")
        then = np.searchsorted(days, age + horizon, side="right")
        waiting = survival[:, now]
        more = incidence[:, then] - incidence[:, now]
        chances: Decimals = np.divide(more, waiting, out=np.zeros_like(more), where=waiting > 0)
        return chances

    def rounds(
        self, age: Whole, leads: Whole, horizon: int, rounds: int, rng: np.random.Generator
    ) -> Iterator[tuple[Decimals, Whole]]:
        """Draw the record anew and let the waiting leads return or not, some rounds at a time.

        `leads` (A,) is how many wait at each age. Yields chances and returns, each (R, A).
        """
        share = self.count / self.size
        at_once = max(1, CELLS_AT_ONCE // len(self.count))
        for start in range(0, rounds, at_once):
            drawn = rng.multinomial(self.size, share, min(at_once, rounds - start))
            chances = np.clip(self.chances(drawn, age, horizon), 0.0, 1.0)
            yield chances, rng.binomial(leads, chances)

    def _entered(self, drawn: Whole, days: Whole) -> Whole:
        """How many of each round have entered by each day: (R, D), or (R, 1) for all at once."""
        if not self.entry.any():
            everyone: Whole = drawn.sum(axis=1, keepdims=True)
            return everyone
        order = np.argsort(self.entry, kind="stable")
        running = np.cumsum(drawn[:, order], axis=1)
        running = np.concatenate((np.zeros_like(running[:, :1]), running), axis=1)
        entered: Whole = running[:, np.searchsorted(self.entry[order], np.maximum(days, 1))]
        return entered


def record(times: Whole, causes: Whole, entry: Whole, cause: int) -> Record:
    """Put checked leads into cells."""
    return record_of_counts(times, causes, entry, np.ones_like(times), cause)


def record_of_counts(
    times: Whole, causes: Whole, entry: Whole, counts: Whole, cause: int
) -> Record:
    """Put checked leads that are already counted into cells; the same record as lead by lead."""
    followed = (counts > 0) & ((entry < times) | (entry == 0))
    ever_at_risk(times, causes, entry)  # refuses an entry after the last day
    kind = np.where(causes == 0, 0, np.where(causes == cause, 2, 1))
    rows = np.vstack((times, kind, entry))[:, followed]
    cells, place = np.unique(rows, axis=1, return_inverse=True)
    count = np.zeros(cells.shape[1], dtype=np.int64)
    np.add.at(count, place.ravel(), counts[followed])
    day, kind, entered = cells
    return Record(day, (kind == 2).astype(np.int64), (kind > 0).astype(np.int64), entered, count)


def _from_the_start(after: Decimals, start: float) -> Decimals:
    return np.concatenate((np.full((len(after), 1), start), after), axis=1)
