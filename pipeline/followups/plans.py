"""The plan that a new team starts with, and any plan in words."""

from __future__ import annotations

from collections import Counter

from pipeline.teams.models import Team

from .models import PlanStep, Trigger, Unit

# (trigger, what to do, count, unit, times)
DEFAULT: list[tuple[Trigger, str, int, Unit, int]] = [
    (Trigger.DELIVERABLE_SENT, "Ask what they made of it", 2, Unit.WORKING_DAYS, 1),
    (Trigger.SESSION_MISSED, "Offer another day for the session", 1, Unit.WORKING_DAYS, 1),
    (Trigger.PROPOSAL_SENT, "Ask where the proposal stands", 10, Unit.WORKING_DAYS, 1),
    (Trigger.NO_BUDGET, "Ask how they are and whether money is in sight", 3, Unit.MONTHS, 8),
    (
        Trigger.NO_BUDGET,
        "Ask whether the money is coming as expected",
        2,
        Unit.WEEKS_BEFORE_FUNDING,
        1,
    ),
    (Trigger.QUIET, "Write once more after the silence", 6, Unit.MONTHS, 1),
    (Trigger.FUNDING_ARRIVED, "Call: their money has arrived", 1, Unit.WORKING_DAYS, 1),
]


def ensure_plan(team: Team) -> None:
    """Give a team without a plan the default one; a team's own plan is left alone."""
    if PlanStep.objects.for_team(team).exists():
        return
    steps = []
    positions: Counter[Trigger] = Counter()
    for trigger, action, count, unit, times in DEFAULT:
        positions[trigger] += 1
        steps.append(
            PlanStep(
                team=team,
                trigger=trigger,
                position=positions[trigger],
                action=action,
                count=count,
                unit=unit,
                times=times,
            )
        )
    PlanStep.objects.bulk_create(steps, ignore_conflicts=True)


SINGULAR = {
    Unit.WORKING_DAYS: "working day after",
    Unit.WEEKS: "week after",
    Unit.MONTHS: "month after",
    Unit.WEEKS_BEFORE_FUNDING: "week before money is expected",
}


def when(step: PlanStep) -> str:
    """Return in words when a step is due: ``every 3 months after, at most 8 times``."""
    unit = Unit(step.unit)
    if step.times > 1:
        every = f"every {step.count} {unit.label}" if step.count > 1 else f"every {SINGULAR[unit]}"
        return f"{every}, at most {step.times} times"
    if not step.count:
        return "the same day" if unit != Unit.WEEKS_BEFORE_FUNDING else "when money is expected"
    return f"{step.count} {SINGULAR[unit] if step.count == 1 else unit.label}"
