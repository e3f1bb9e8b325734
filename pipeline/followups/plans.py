"""The plan that a new team starts with, and any plan in words."""

from __future__ import annotations

from collections import Counter

from django.db import transaction

from pipeline.teams.models import Team

from .models import PlanEdition, PlanStep, Trigger, Unit
from .planning import Edition

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


@transaction.atomic
def ensure_plan(team: Team) -> None:
    """Give a team without a plan the default one; a team's own plan is left alone."""
    edition, first = PlanEdition.objects.get_or_create(team=team, number=1)
    if not first:
        return
    positions: Counter[Trigger] = Counter()
    for trigger, action, count, unit, times in DEFAULT:
        positions[trigger] += 1
        PlanStep.objects.create(
            team=team,
            edition=edition,
            trigger=trigger,
            position=positions[trigger],
            action=action,
            count=count,
            unit=unit,
            times=times,
        )


def in_force(team: Team) -> list[Edition]:
    """Return the editions by which facts of the team can go, the newest first; two queries.

    Those before the newest that holds everywhere, or from the start, are history.
    """
    return [
        Edition(
            number=row.number,
            steps=list(row.steps.all()),
            made_at=row.made_at,
            everywhere_from=team.today(row.everywhere_at) if row.everywhere_at else None,
        )
        for row in PlanEdition.objects.in_force(team).prefetch_related("steps")
    ]


def when(step: PlanStep) -> str:
    """Return in words when a step is due: ``every 3 months, at most 8 times``."""
    before = step.unit == Unit.WEEKS_BEFORE_FUNDING
    unit = {Unit.WORKING_DAYS: "working day", Unit.MONTHS: "month"}.get(Unit(step.unit), "week")
    length = f"{step.count} {unit}{'s' if step.count != 1 else ''}"
    money = " before money is expected" if before else ""
    if step.times > 1:
        every = unit if step.count == 1 else length
        return f"every {every}{money}, at most {step.times} times"
    if not step.count:
        return "when money is expected" if before else "the same day"
    return f"{length}{money or ' later'}"
