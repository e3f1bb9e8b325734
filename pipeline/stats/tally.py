"""Counts a day: what every curve and comparison here is computed from.

Days are few and leads may be many, so leads are counted into days once, without sorting, and
everything after works on days.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from pipeline.stats.arguments import Whole

# Above this a table by day would be mostly empty; such days are sorted instead.
DENSE_DAYS = 1 << 20
# Few enough to stay in the processor's cache, which counts them twice as fast.
LEADS_AT_ONCE = 1 << 15


@dataclass(frozen=True, eq=False)
class Tally:
    """Who leaves on the D days on which anybody does, and who enters when.

    `days` and `exits` (D,), ascending; `events` (K, D); `entry_days` and `entries` (E,),
    ascending, entry day 0 for those at risk from the start.
    """

    days: Whole
    exits: Whole
    events: Whole
    entry_days: Whole
    entries: Whole

    @cached_property
    def at_risk(self) -> Whole:
        """How many are at risk on each of `days`, shape (D,)."""
        return self._entered_before(self.days) - (np.cumsum(self.exits) - self.exits)

    def at_risk_on(self, day: int) -> int:
        """How many are at risk on one day."""
        gone = self.exits[: np.searchsorted(self.days, day)].sum()
        return int(self._entered_before(np.array([day]))[0] - gone)

    def _entered_before(self, days: Whole) -> Whole:
        running = np.concatenate(([0], np.cumsum(self.entries)))
        # Entry 0 is at risk on day 0 itself, any later entry only from the day after.
        position = np.searchsorted(self.entry_days, np.maximum(days, 1))
        entered: Whole = running[position]
        return entered


def ever_at_risk(times: Whole, causes: Whole, entry: Whole) -> tuple[Whole, Whole, Whole]:
    """Leave out who is last seen on the day of a late entry, and refuse who left before it."""
    never = (entry >= times) & (entry > 0)
    if not never.any():
        return times, causes, entry
    late = entry > times
    if late.any():
        first = int(np.argmax(late))
        raise ValueError(
            f"entry: {entry[first]} at position {first} is after the last day, {times[first]}"
        )
    return times[~never], causes[~never], entry[~never]


def tally_leads(times: Whole, causes: Whole, entry: Whole | None) -> Tally:
    """Count leads into days; the arrays are checked and of one length."""
    if entry is not None:
        times, causes, entry = ever_at_risk(times, causes, entry)
    kinds = max(int(causes.max(initial=0)), 1) + 1
    days, table = count_by_day(times, causes, kinds)
    if entry is None:
        entry_days, entries = _all_from_the_start(len(times))
    else:
        entry_days, arrivals = count_by_day(entry, np.zeros_like(entry), 1)
        entries = arrivals[0]
    return Tally(days, table.sum(axis=0), table[1:], entry_days, entries)


def tally_counts(days: Whole, exits: Whole, events: Whole, entries: Whole | None) -> Tally:
    """Put counts a day in order; the arrays are checked and of one length."""
    out = _sum_by_day(days, np.vstack((exits, events)))
    leave_days, exits, events = out[0], out[1][0], out[1][1:]
    _refuse_days("events", leave_days, events.sum(axis=0), exits, "leave")
    if entries is None:
        entry_days, entries = _all_from_the_start(int(exits.sum()))
    else:
        entry_days, arrivals = _sum_by_day(days, entries[np.newaxis, :])
        entries = arrivals[0]
        if entries.sum() != exits.sum():
            raise ValueError(f"entries: {entries.sum()} enter, but {exits.sum()} leave")
    tally = Tally(leave_days, exits, events, entry_days, entries)
    _refuse_days("exits", leave_days, exits, tally.at_risk, "are at risk")
    return tally


def count_by_day(days: Whole, kind: Whole, kinds: int) -> tuple[Whole, Whole]:
    """The days that occur, and a table (kinds, D) of how often each kind does on them."""
    width = int(days.max(initial=-1)) + 1
    if width <= DENSE_DAYS:
        table = _table(days, kind, width, kinds)
        occurring = np.flatnonzero(table.any(axis=0))
        return occurring, table[:, occurring]
    occurring, position = np.unique(days, return_inverse=True)
    return occurring, _table(position, kind, len(occurring), kinds)


def _table(position: Whole, kind: Whole, width: int, kinds: int) -> Whole:
    cells = width * kinds
    counts = np.zeros(cells, dtype=np.int64)
    at_once = max(cells, LEADS_AT_ONCE)
    for start in range(0, len(position), at_once):
        part = slice(start, start + at_once)
        counts += np.bincount(kind[part] * width + position[part], minlength=cells)
    return counts.reshape(kinds, width)


def _sum_by_day(days: Whole, rows: Whole) -> tuple[Whole, Whole]:
    """Sum the columns of `rows` by day, and keep the days on which anything counts."""
    occurring, position = np.unique(days, return_inverse=True)
    summed = np.zeros((len(rows), len(occurring)), dtype=np.int64)
    for row, total in zip(rows, summed, strict=True):
        np.add.at(total, position, row)
    busy = summed.any(axis=0)
    return occurring[busy], summed[:, busy]


def _all_from_the_start(people: int) -> tuple[Whole, Whole]:
    return np.array([0]), np.array([people])


def _refuse_days(name: str, days: Whole, more: Whole, fewer: Whole, verb: str) -> None:
    if (more > fewer).any():
        first = int(np.argmax(more > fewer))
        raise ValueError(f"{name}: {more[first]} on day {days[first]}, but {fewer[first]} {verb}")
