"""The arithmetic of an agenda: minutes of steps, slack, shares by way of working."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class Agenda:
    """What an agenda does with its booked minutes."""

    booked: int
    # (way of working, minutes), in the order of the steps
    steps: tuple[tuple[str, int], ...]

    @property
    def planned(self) -> int:
        """The minutes of all steps."""
        return sum(minutes for _, minutes in self.steps)

    @property
    def slack(self) -> int:
        """The booked minutes that no step takes; below zero where the steps take too many."""
        return self.booked - self.planned

    @property
    def over(self) -> int:
        """The minutes by which the steps pass the booked time; 0 where they fit."""
        return max(-self.slack, 0)

    @property
    def by_way(self) -> dict[str, int]:
        """The minutes of each way of working that occurs, in order of first occurrence."""
        found: dict[str, int] = {}
        for way, minutes in self.steps:
            found[way] = found.get(way, 0) + minutes
        return found

    @property
    def offsets(self) -> list[int]:
        """For each step the minute at which it starts when nothing overruns."""
        found, elapsed = [], 0
        for _, minutes in self.steps:
            found.append(elapsed)
            elapsed += minutes
        return found


def agenda_of(booked: int, steps: Iterable[tuple[str, int]]) -> Agenda:
    """Return the arithmetic of ``steps`` (way of working, minutes) in ``booked`` minutes."""
    return Agenda(booked, tuple(steps))
