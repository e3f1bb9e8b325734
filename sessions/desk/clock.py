"""The clock of a run: a pure function of what was pressed and the present moment.

The hour runs from the start without a stop; a pause stops the step, not the hour. Whatever a step
takes too long, and whatever a pause takes, is taken from the slack: what is left of the hour
beyond what is left of the steps.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import StrEnum

from sessions.models import Press

MINUTE = timedelta(minutes=1)
NONE = timedelta(0)
# Of what is left of a later step this much may go. Common practice, no source.
MAY_GO = 2


class State(StrEnum):
    """What a run is doing."""

    READY = "ready"
    RUNNING = "running"
    PAUSED = "paused"
    ENDED = "ended"


@dataclass(frozen=True)
class Pressed:
    """One press. ``step`` and ``minutes`` are those of an added minute."""

    kind: str
    at: datetime
    step: int | None = None
    minutes: int = 0


@dataclass(frozen=True)
class Clock:
    """A run as it stands at one moment. Steps are counted from 0."""

    # For each step its minutes as planned, those with what was added, and the time it really took.
    planned: tuple[int, ...]
    given: tuple[int, ...]
    spent: tuple[timedelta, ...]
    booked: int
    state: State = State.READY
    step: int = 0
    started_at: datetime | None = None
    # The moment until which time is counted, and that of the last press.
    seen_at: datetime | None = None
    pressed_at: datetime | None = None

    @property
    def has_steps(self) -> bool:
        """Whether there is any step to run."""
        return bool(self.given)

    def left_of(self, step: int) -> timedelta:
        """Return what is left of a step; below zero where it runs over."""
        return self.given[step] * MINUTE - self.spent[step]

    @property
    def step_left(self) -> timedelta:
        """What is left of the step in hand; below zero where it runs over."""
        return self.left_of(self.step) if self.has_steps else NONE

    @property
    def hour_left(self) -> timedelta:
        """What is left of the booked time; below zero where the run passes it."""
        if self.started_at is None or self.seen_at is None:
            return self.booked * MINUTE
        return self.booked * MINUTE - (self.seen_at - self.started_at)

    @property
    def slack(self) -> timedelta:
        """What is left of the hour beyond what is left of its steps."""
        ahead = range(self.step, len(self.given))
        return self.hour_left - sum((max(self.left_of(step), NONE) for step in ahead), NONE)

    @property
    def shorter(self) -> list[tuple[int, int]]:
        """Which later steps to shorten, each by how many minutes, so that the hour holds.

        The longest first, of two alike the later; none gives more than half of what it has left.
        """
        missing = -(self.slack // MINUTE)
        if self.state not in (State.RUNNING, State.PAUSED) or missing <= 0:
            return []
        found = []
        later = range(self.step + 1, len(self.given))
        for step in sorted(later, key=lambda n: (self.left_of(n), n), reverse=True):
            gives = min(missing, self.left_of(step) // MINUTE // MAY_GO)
            if gives <= 0:
                break
            found.append((step, gives))
            missing -= gives
        return found

    def until(self, moment: datetime) -> Clock:
        """Return the clock with the time counted up to ``moment``."""
        if self.seen_at is None or self.state == State.ENDED or moment <= self.seen_at:
            return self
        if self.state != State.RUNNING or not self.has_steps:
            return replace(self, seen_at=moment)
        spent = list(self.spent)
        spent[self.step] += moment - self.seen_at
        return replace(self, spent=tuple(spent), seen_at=moment)

    def allows(self, kind: str, step: int | None = None) -> bool:
        """Tell whether a press would change anything; ``step`` is the one to get minutes."""
        under_way = self.state in (State.RUNNING, State.PAUSED)
        match kind:
            case Press.START:
                return self.state in (State.READY, State.ENDED)
            case Press.PAUSE:
                return self.state == State.RUNNING
            case Press.RESUME:
                return self.state in (State.PAUSED, State.ENDED)
            case Press.NEXT:
                return under_way and self.step + 1 < len(self.given)
            case Press.BACK:
                return under_way and self.step > 0
            case Press.ADD:
                known = step is not None and 0 <= step < len(self.given)
                return known and self.state != State.ENDED
            case Press.END:
                return under_way
        return False

    def after(self, press: Pressed) -> Clock:
        """Return the clock after a press; the same clock where it changes nothing."""
        if not self.allows(press.kind, press.step):
            return self
        clock = replace(self.until(press.at), pressed_at=press.at)
        match press.kind:
            case Press.START:
                # After an end it starts anew: what ran before was a rehearsal.
                fresh = self if self.state == State.READY else unstarted(self.planned, self.booked)
                at = press.at
                fresh = replace(fresh, started_at=at, seen_at=at, pressed_at=at)
                return replace(fresh, state=State.RUNNING)
            case Press.PAUSE:
                return replace(clock, state=State.PAUSED)
            case Press.RESUME:
                return replace(clock, state=State.RUNNING, seen_at=press.at)
            case Press.NEXT:
                return replace(clock, step=clock.step + 1)
            case Press.BACK:
                return replace(clock, step=clock.step - 1)
            case Press.ADD:
                assert press.step is not None
                given = list(clock.given)
                given[press.step] = max(given[press.step] + press.minutes, 0)
                return replace(clock, given=tuple(given))
        return replace(clock, state=State.ENDED)


def unstarted(steps: Sequence[int], booked: int) -> Clock:
    """Return the clock of an agenda that nobody has started."""
    return Clock(tuple(steps), tuple(steps), (NONE,) * len(steps), booked)


def clock_at(
    now: datetime, *, steps: Sequence[int], booked: int, presses: Iterable[Pressed]
) -> Clock:
    """Return the clock at ``now`` of an agenda of ``steps`` (minutes) in ``booked`` minutes.

    ``presses`` are in the order in which they count.
    """
    clock = unstarted(steps, booked)
    for press in presses:
        clock = clock.after(press)
    return clock.until(now)
