"""What every row of a team has in common."""

from __future__ import annotations

from typing import TYPE_CHECKING, Self, TypeVar

from django.db import models

if TYPE_CHECKING:
    from .team import Team

Row = TypeVar("Row", bound=models.Model)


class TeamQuerySet(models.QuerySet[Row]):
    """Rows of teams; ask for one team's."""

    def for_team(self, team: Team) -> Self:
        """Return the rows of ``team``."""
        return self.filter(team=team)


class TeamOwned(models.Model):
    """A row that belongs to one team."""

    team = models.ForeignKey("teams.Team", models.CASCADE, related_name="+")

    class Meta:
        abstract = True


class Recorded(models.Model):
    """A dated fact: when it was entered and by whom."""

    recorded_at = models.DateTimeField()
    # NULL: entered by an import or by someone who has left.
    recorded_by = models.ForeignKey(
        "teams.Member", models.SET_NULL, null=True, blank=True, related_name="+"
    )
    # Follow-ups that would be due before this day are not planned; NULL: all are. Set by an
    # import, which must not call up what lies years back.
    plan_from = models.DateField(null=True, blank=True)

    class Meta:
        abstract = True
