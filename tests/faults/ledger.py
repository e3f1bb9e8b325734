"""The count: what was promised against what arrived, and which doubles a fault explains."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection
from dataclasses import dataclass, field


@dataclass(frozen=True)
class Arrival:
    """One thing that arrived: a letter that the mail server took, a form that is stored."""

    # The address, which tells one letter from all others.
    what: str
    # The Message-ID.
    mark: str
    # Through which worker it came.
    slot: int = 0
    # The server took it, and hung up without a word.
    unanswered: bool = False


@dataclass(frozen=True)
class Count:
    """What came of a fault. ``wrong``: what no fault explains, in words."""

    promised: int
    lost: int
    doubled: int
    allowed: int
    wrong: tuple[str, ...] = ()

    @property
    def failed(self) -> bool:
        """Whether more went wrong than is promised to go right."""
        return self.lost > 0 or self.doubled > self.allowed or bool(self.wrong)


@dataclass
class Ledger:
    """What was promised, what arrived, and what stood open each time a fault struck."""

    promised: set[str] = field(default_factory=set)
    # What must never arrive: taken back before it was stored, or not due yet.
    never: set[str] = field(default_factory=set)
    arrived: list[Arrival] = field(default_factory=list)
    # How often a fault struck between the arrival of this one and its mark.
    allowed: Counter[str] = field(default_factory=Counter)
    # Up to where earlier faults have looked at the arrivals of each slot.
    _looked: defaultdict[int, int] = field(default_factory=lambda: defaultdict(int))

    def strike(self, slots: Collection[int], unmarked: Collection[str]) -> None:
        """Note a fault in the workers of ``slots``: what of theirs is ``unmarked`` may come again.

        Each arrival is looked at by one fault only, the first one after it.
        """
        for slot in slots:
            for arrival in self.arrived[self._looked[slot] :]:
                if arrival.slot == slot and arrival.what in unmarked and not arrival.unanswered:
                    self.allowed[arrival.what] += 1
            self._looked[slot] = len(self.arrived)

    def count(self) -> Count:
        """Return the count; what the server left unanswered is allowed to come again."""
        times = Counter(arrival.what for arrival in self.arrived)
        allowed = self.allowed + Counter(a.what for a in self.arrived if a.unanswered)
        doubled = {what: n - 1 for what, n in times.items() if n > 1}
        return Count(
            promised=len(self.promised),
            lost=len(self.promised - set(times)),
            doubled=sum(doubled.values()),
            allowed=sum(allowed.values()),
            wrong=(
                *(
                    f"{what} came {n} times too often, {allowed[what]} of them explained"
                    for what, n in doubled.items()
                    if n > allowed[what]
                ),
                *(f"{what} was never to come" for what in sorted(self.never & set(times))),
                *self._mixed_up(),
            ),
        )

    def _mixed_up(self) -> list[str]:
        pairs = {(arrival.what, arrival.mark) for arrival in self.arrived}
        marks = Counter(what for what, _ in pairs)
        whats = Counter(mark for _, mark in pairs)
        return [
            *(f"{what} came under {n} Message-IDs" for what, n in marks.items() if n > 1),
            *(f"{n} letters came under {mark}" for mark, n in whats.items() if n > 1),
        ]
