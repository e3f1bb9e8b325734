"""Small records made by hypothesis, and the same figures by definition in exact fractions."""

from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from hypothesis import strategies as st


@dataclass(frozen=True)
class Record:
    times: list[int]
    causes: list[int]
    entry: list[int]

    @property
    def last(self) -> int:
        return max(self.times)


@st.composite
def records(
    draw: st.DrawFn,
    *,
    causes: int = 2,
    censored: bool = True,
    late: bool = False,
    least: int = 1,
    most: int = 25,
    first_day: int = 0,
) -> Record:
    """Leads with few days between them, so that ties are many."""
    last_day = draw(st.integers(first_day, 12))
    lead = st.tuples(
        st.integers(first_day, last_day),
        st.integers(0 if censored else 1, causes),
        st.integers(0, last_day) if late else st.just(0),
    )
    rows = [
        (time, cause, entry if entry < time else 0)
        for time, cause, entry in draw(st.lists(lead, min_size=least, max_size=most))
    ]
    times, codes, entries = (list(column) for column in zip(*rows, strict=True))
    return Record(times, codes, entries)


@dataclass(frozen=True)
class Exact:
    """One day of a curve in fractions; lists hold one value a cause."""

    at_risk: int
    events: list[int]
    survival: Fraction
    incidence: list[Fraction]
    variance: list[Fraction]


def exact_curve(record: Record, causes: int = 2, after: int = -1) -> dict[int, Exact]:
    """The curve by definition, one lead at a time, of those who stay beyond day `after`."""
    leads = [
        lead
        for lead in zip(record.times, record.causes, record.entry, strict=True)
        if lead[0] > after
    ]
    survival, incidence = Fraction(1), [Fraction(0)] * causes
    past: list[tuple[int, int, list[int], Fraction, list[Fraction]]] = []
    days = {}
    for day in sorted({time for time, _, _ in leads}):
        at_risk = sum(time >= day and (entry < day or entry == 0) for time, _, entry in leads)
        events = [
            sum(time == day and cause == code for time, cause, _ in leads)
            for code in range(1, causes + 1)
        ]
        before = survival
        survival *= 1 - Fraction(sum(events), at_risk)
        incidence = [
            share + before * Fraction(count, at_risk)
            for share, count in zip(incidence, events, strict=True)
        ]
        past.append((day, at_risk, events, before, incidence))
        variance = [_variance(past, code) for code in range(causes)]
        days[day] = Exact(at_risk, events, survival, incidence, variance)
    return days


def _variance(
    past: list[tuple[int, int, list[int], Fraction, list[Fraction]]], code: int
) -> Fraction:
    now = past[-1][4][code]
    total = Fraction(0)
    for _, at_risk, events, before, incidence in past:
        own, all_events, still = events[code], sum(events), now - incidence[code]
        if all_events < at_risk:
            total += still**2 * Fraction(all_events, at_risk * (at_risk - all_events))
        total += before**2 * Fraction(own * (at_risk - own), at_risk**3)
        total -= 2 * still * before * Fraction(own, at_risk**2)
    return total


def arrays(record: Record) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    return np.array(record.times), np.array(record.causes), np.array(record.entry)
