"""Absences of a team's members: entered, corrected and removed."""

from __future__ import annotations

from datetime import date

from django.db import transaction

from .models import Absence, Member, Role, Team
from .refused import Refused
from .templatetags.show import span

LAST_BEFORE_FIRST = "The last day must be the first day or a later one."


@transaction.atomic
def enter(
    *,
    member: Member,
    first_day: date,
    last_day: date,
    stand_in: Member | None = None,
    note: str = "",
) -> Absence:
    """Store that a member is away from the first day to the last, both included."""
    absence = Absence(
        team=member.team,
        member=member,
        first_day=first_day,
        last_day=last_day,
        stand_in=stand_in,
        note=note,
    )
    _check(absence)
    absence.save()
    return absence


@transaction.atomic
def amend(*, absence: Absence, expected_version: int) -> None:
    """Save the days, stand-in and note that ``absence`` now has."""
    _check(absence)
    absence.save_version(expected_version)


def remove(*, absence: Absence) -> None:
    """Remove an absence; once it is gone, twice changes nothing."""
    Absence.objects.filter(team=absence.team, pk=absence.pk).delete()


def _check(absence: Absence) -> None:
    member = absence.member
    if absence.last_day < absence.first_day:
        raise Refused(LAST_BEFORE_FIRST, "last_day")
    if absence.stand_in == member:
        raise Refused("Nobody stands in for themselves. Choose somebody else.", "stand_in")
    # Held, so that of two at once the second sees the first.
    Member.objects.select_for_update().get(team=member.team, pk=member.pk)
    others = Absence.objects.for_team(member.team).filter(member=member).exclude(pk=absence.pk)
    if other := others.within(absence.first_day, absence.last_day).first():
        raise Refused(
            f"{member} is away from {span(other.first_day, other.last_day)} already. "
            "Change that absence, or choose days outside it.",
            "first_day",
        )


def may_change(member: Member, absence: Absence) -> bool:
    """Tell whether ``member`` may change an absence: their own, or anybody's for an owner."""
    return member.pk == absence.member_id or member.may(Role.OWNER)


def listed(team: Team, today: date) -> list[tuple[Absence, bool]]:
    """Return the absences that are not over, each with whether the stand-in is away then too.

    One query.
    """
    rows = Absence.objects.for_team(team).filter(last_day__gte=today, member__left_on=None)
    found = list(rows.with_names())
    return [
        (
            absence,
            any(
                other.member_id == absence.stand_in_id
                and other.first_day <= absence.last_day
                and other.last_day >= absence.first_day
                for other in found
            ),
        )
        for absence in found
    ]
