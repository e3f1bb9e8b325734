"""Short words for the facts and steps of the planning tests."""

from __future__ import annotations

from datetime import date

from pipeline.followups.models import PlanStep
from pipeline.followups.planning import Edition, Fact, Wanted


def step(trigger, count, unit, *, times=1, position=1, action="Write"):
    return PlanStep(
        trigger=trigger, position=position, action=action, count=count, unit=unit, times=times
    )


def by(steps: list[PlanStep]) -> list[Edition]:
    """Return a plan of these steps that holds from the start."""
    return [Edition(1, steps)]


def fact(trigger, day, **rest):
    return Fact(trigger, date.fromisoformat(day), **rest)


def days(wanted: list[Wanted]) -> list[str]:
    return [item.due_on.isoformat() for item in wanted]
