"""A team's plan: the first one, the editions that hold, and each step in words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from django.db import transaction

from pipeline.teams.models import Team

from .default_plan import DEFAULT
from .models import PlanEdition, PlanStep, Unit
from .planning import Edition


@transaction.atomic
def ensure_plan(team: Team) -> None:
    """Give a team without a plan the default one; a team's own plan is left alone."""
    edition, first = PlanEdition.objects.get_or_create(team=team, number=1)
    if not first:
        return
    positions: Counter[str] = Counter()
    for step in DEFAULT:
        positions[step["trigger"]] += 1
        PlanStep.objects.create(
            team=team, edition=edition, position=positions[step["trigger"]], **step
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


def waits(editions: Sequence[Edition]) -> bool:
    """Tell whether older facts go by other days than the newest of these editions says."""
    if not editions or editions[0].made_at is None or editions[0].everywhere_from:
        return False
    newest, *earlier = ({_days(step) for step in edition.steps} for edition in editions)
    return any(days != newest for days in earlier or [set()])


MONEY: dict[str, str] = {
    Unit.WEEKS_BEFORE_FUNDING: " before money is expected",
    Unit.WEEKS_AFTER_EXPECTED: " after money was expected",
}
AT_ONCE: dict[str, str] = {
    Unit.WEEKS_BEFORE_FUNDING: "when money is expected",
    Unit.WEEKS_AFTER_EXPECTED: "at the end of the day or month for which money was expected",
}


def _days(step: PlanStep) -> tuple[object, ...]:
    return step.trigger, step.position, step.count, step.unit, step.times


def when(step: PlanStep) -> str:
    """Return in words when a step is due: ``every 3 months, at most 8 times``."""
    unit = {Unit.WORKING_DAYS: "working day", Unit.MONTHS: "month"}.get(Unit(step.unit), "week")
    length = f"{step.count} {unit}{'s' if step.count != 1 else ''}"
    money = MONEY.get(step.unit, "")
    if step.times > 1:
        every = unit if step.count == 1 else length
        return f"every {every}{money}, at most {step.times} times"
    if not step.count:
        return AT_ONCE.get(step.unit, "the same day")
    return f"{length}{money or ' later'}"
