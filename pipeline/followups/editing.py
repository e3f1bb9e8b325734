"""Change a team's plan: each change stores a new edition, the earlier ones stay as they were."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Max

from pipeline.teams.models import Member, Stale, Team
from pipeline.teams.refused import Refused

from .models import PlanEdition, PlanStep

TYPED = ("action", "count", "unit", "times", "letter_subject", "letter_text")
# More than anybody keeps in mind; it bounds what one fact can call up.
MOST_STEPS = 50


@transaction.atomic
def add_step(*, step: PlanStep, team: Team, member: Member, now: datetime) -> PlanStep:
    """Add a step to the plan, with a number that no step after its trigger ever had."""
    newest, steps = _held(team)
    if len(steps) >= MOST_STEPS:
        raise Refused(f"A plan holds {MOST_STEPS} steps at most; remove one first.")
    ever = PlanStep.objects.for_team(team).filter(trigger=step.trigger)
    step.team = team
    step.position = (ever.aggregate(last=Max("position"))["last"] or 0) + 1
    _check(step)
    _store(team, newest, [*steps, step], [step], member, now)
    return step


@transaction.atomic
def change_step(*, step: PlanStep, member: Member, now: datetime, expected_version: int) -> bool:
    """Store what ``step`` says now; returns whether that is anything new.

    ``Stale`` where somebody else changed or removed it since ``expected_version``.
    """
    newest, steps = _held(step.team)
    stored = _found(step, steps, expected_version)
    _check(step)
    if all(getattr(stored, name) == getattr(step, name) for name in TYPED):
        return False
    for name in TYPED:
        setattr(stored, name, getattr(step, name))
    _store(step.team, newest, steps, [stored], member, now)
    return True


@transaction.atomic
def remove_step(*, step: PlanStep, member: Member, now: datetime, expected_version: int) -> None:
    """Take a step out of the plan; its number is not used again.

    ``Stale`` where somebody else changed or removed it since ``expected_version``.
    """
    newest, steps = _held(step.team)
    steps.remove(_found(step, steps, expected_version))
    _store(step.team, newest, steps, [], member, now)


@transaction.atomic
def put_back(*, team: Team, number: int, member: Member, now: datetime) -> None:
    """Make a new edition that says what the one before edition ``number``, the newest, said."""
    newest, steps = _held(team)
    if newest is None or newest.number != number:
        raise Refused("Somebody changed the plan meanwhile. Look at it before you put one back.")
    earlier = PlanEdition.objects.for_team(team).filter(number=number - 1).first()
    if earlier is None:
        raise Refused("There is no earlier plan to put back.")
    now_there = {_lasting(step): step for step in steps}
    again = list(earlier.steps.all())
    changed = []
    for step in again:
        other = now_there.get(_lasting(step))
        if other and all(getattr(other, name) == getattr(step, name) for name in TYPED):
            step.version = other.version
        else:
            changed.append(step)
    _store(team, newest, again, changed, member, now)


def current_of(step: PlanStep) -> PlanStep | None:
    """Return the step as the newest edition has it; ``None`` once it was removed."""
    rows = PlanStep.objects.current(step.team)
    found: PlanStep | None = rows.filter(trigger=step.trigger, position=step.position).first()
    return found


def _held(team: Team) -> tuple[PlanEdition | None, list[PlanStep]]:
    """Return the newest edition and its steps; who else changes the plan waits."""
    Team.objects.select_for_update(no_key=True).get(pk=team.pk)
    newest = PlanEdition.objects.newest(team)
    return newest, list(newest.steps.all()) if newest else []


def _found(step: PlanStep, steps: Iterable[PlanStep], expected_version: int) -> PlanStep:
    for stored in steps:
        if _lasting(stored) == _lasting(step) and stored.version == expected_version:
            return stored
    raise Stale(step)


def _lasting(step: PlanStep) -> tuple[str, int]:
    return step.trigger, step.position


def _check(step: PlanStep) -> None:
    try:
        step.full_clean(exclude=["team", "edition"], validate_constraints=False)
    except ValidationError as error:
        field, messages = next(iter(error.message_dict.items()))
        raise Refused(messages[0], field) from error
    if not step.action:
        raise Refused("Say what is to be done.", "action")


def _store(
    team: Team,
    newest: PlanEdition | None,
    steps: list[PlanStep],
    changed: list[PlanStep],
    member: Member,
    now: datetime,
) -> None:
    edition = PlanEdition.objects.create(
        team=team,
        number=newest.number + 1 if newest else 1,
        made_at=now,
        made_by=member,
    )
    for step in changed:
        step.version = edition.number
    for step in steps:
        step.pk, step.edition = None, edition
    PlanStep.objects.bulk_create(steps)
