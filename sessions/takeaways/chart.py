"""A lane chart as it is drawn: lanes in the order in which they come up, hand-overs between."""

from __future__ import annotations

from dataclasses import dataclass

# More don't fit on a page beside each other.
MOST_LANES = 8
MOST_STEPS = 100


@dataclass(frozen=True)
class StepDraft:
    """One step as it is typed."""

    lane: str
    text: str
    handed_over: str = ""
    look_next: bool = False
    why: str = ""


@dataclass(frozen=True)
class HandOver:
    """Work that goes from one lane to another, before a step."""

    source: int
    target: int
    what: str

    def across(self, lanes: int) -> list[str]:
        """Return what an arrow does in each of ``lanes``: starts, passes, arrives, or nothing."""
        rightwards = self.source < self.target
        kinds = [""] * lanes
        for lane in range(min(self.source, self.target) + 1, max(self.source, self.target)):
            kinds[lane] = "passes"
        kinds[self.source] = "starts-right" if rightwards else "starts-left"
        kinds[self.target] = "arrives-left" if rightwards else "arrives-right"
        return kinds


@dataclass(frozen=True)
class Drawn:
    """One step with its number and lane, and the hand-over that led to it."""

    number: int
    lane: int
    step: StepDraft
    hand_over: HandOver | None
    lanes: int

    @property
    def cells(self) -> list[StepDraft | None]:
        """The step in its lane, and nothing in the others."""
        return [self.step if lane == self.lane else None for lane in range(self.lanes)]

    @property
    def arrow(self) -> list[str]:
        """What leads to this step, lane by lane: from another lane, or straight on."""
        if self.hand_over is not None:
            return self.hand_over.across(self.lanes)
        return ["onward" if lane == self.lane else "" for lane in range(self.lanes)]


@dataclass(frozen=True)
class Chart:
    """Steps in order; everything else follows from them."""

    steps: tuple[StepDraft, ...] = ()

    @property
    def lanes(self) -> list[str]:
        """The parties, in the order in which they first do something."""
        return list(dict.fromkeys(step.lane for step in self.steps))

    @property
    def rows(self) -> list[Drawn]:
        """The steps as they are drawn, from top to bottom."""
        lanes, drawn = self.lanes, list[Drawn]()
        for number, step in enumerate(self.steps, start=1):
            lane = lanes.index(step.lane)
            before = drawn[-1].lane if drawn else lane
            given = HandOver(before, lane, step.handed_over) if before != lane else None
            drawn.append(Drawn(number, lane, step, given, len(lanes)))
        return drawn

    @property
    def look_next(self) -> list[Drawn]:
        """The steps that are marked as places to look next."""
        return [row for row in self.rows if row.step.look_next]

    @property
    def hand_overs(self) -> int:
        """How often work goes from one lane to another."""
        return sum(row.hand_over is not None for row in self.rows)
