"""Days on which a member is away, and who stands in."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any, Self

from django.db import models
from django.db.models import F, Q

from .member import Member
from .owned import TeamOwned, TeamQuerySet
from .team import Team
from .versioned import Versioned


class AbsenceQuerySet(TeamQuerySet["Absence"]):
    """Absences by what they are looked up for."""

    def within(self, first: date, last: date) -> Self:
        """Return the absences of which a day lies in ``first`` ≤ day ≤ ``last``."""
        return self.filter(first_day__lte=last, last_day__gte=first)

    def with_names(self) -> Self:
        """Return absences with both people's names at hand."""
        return self.select_related("member__user", "stand_in__user")

    def on(self, team: Team, day: date) -> list[Absence]:
        """Return the absences of ``team`` on ``day``, with names; of those present only."""
        rows = self.for_team(team).within(day, day).filter(member__left_on=None)
        return list(rows.with_names().order_by("pk"))

    def away(self, team: Team, day: date) -> dict[int, int | None]:
        """Return who is away on ``day`` and who stands in for each; ``None``: nobody does."""
        return stand_ins(self.on(team, day), day)


class Absence(TeamOwned, Versioned):
    """The days, both included, on which a member is away."""

    member = models.ForeignKey(Member, models.CASCADE, related_name="absences")
    first_day = models.DateField()
    last_day = models.DateField()
    # NULL: nobody; the member's work is everybody's for these days.
    stand_in = models.ForeignKey(
        Member, models.SET_NULL, null=True, blank=True, related_name="standing_in"
    )
    note = models.CharField(max_length=200, blank=True)

    objects: Any = AbsenceQuerySet.as_manager()

    class Meta:
        ordering = ["first_day", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(last_day__gte=F("first_day")), name="absence_ends_after_it_starts"
            ),
        ]
        indexes = [models.Index(fields=["team", "last_day"], name="absence_by_day")]

    def __str__(self) -> str:
        return f"{self.member} is away"


def stand_ins(absences: Iterable[Absence], day: date) -> dict[int, int | None]:
    """Return who is away on ``day`` and who does their work: the key of a member for each key.

    Where the stand-in is away too it is the stand-in's stand-in, and so on. ``None`` where that
    ends at nobody: none was named, the one named has left or only reads, or they go round in a
    circle.
    """
    away = {a.member_id: a.stand_in for a in absences if a.first_day <= day <= a.last_day}

    def found(member: int) -> int | None:
        met = {member}
        other = away[member]
        while other is not None and other.left_on is None and other.writes:
            if other.pk not in away:
                return other.pk
            if other.pk in met:
                return None
            met.add(other.pk)
            other = away[other.pk]
        return None

    return {member: found(member) for member in away}
