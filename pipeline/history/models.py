"""A change of a row, as the database's triggers write it."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.db import models
from django.db.models import Q

from pipeline.teams.models import TeamOwned, TeamQuerySet

# How long what was removed can be put back.
KEPT = timedelta(days=30)


class ChangeQuerySet(TeamQuerySet["Change"]):
    """Changes by what they are looked up for."""

    def of(self, row: models.Model) -> ChangeQuerySet:
        """Return the changes of one row, the newest first."""
        return self.filter(table=row._meta.db_table, row=row.pk).newest_first()

    def newest_first(self) -> ChangeQuerySet:
        """Return changes with who made them at hand, the newest first."""
        return self.select_related("member__user").order_by("-pk")

    def to_be_put_back(self) -> ChangeQuerySet:
        """Return the rows that were removed and not put back."""
        return self.filter(removed=True, put_back_at=None)


class Change(TeamOwned):
    """One row that was changed or removed; written by triggers alone (see triggers.py)."""

    team = models.ForeignKey("teams.Team", models.CASCADE, related_name="+", db_constraint=False)
    # The table and the key of the row.
    table = models.CharField(max_length=63)
    row = models.BigIntegerField()
    # The lead to which the row belonged. NULL: none.
    lead = models.BigIntegerField(null=True)
    at = models.DateTimeField()
    # NULL: the program by itself, or who is gone.
    member = models.ForeignKey(
        "teams.Member", models.DO_NOTHING, null=True, related_name="+", db_constraint=False
    )
    # The same for all that one act changed.
    act = models.CharField(max_length=40)
    removed = models.BooleanField()
    # Of a change: {column: [before, after]}; of a removal: {column: value}.
    said = models.JSONField()
    # NULL: was not put back.
    put_back_at = models.DateTimeField(null=True)

    objects: Any = ChangeQuerySet.as_manager()

    class Meta:
        indexes = [
            models.Index(fields=["team", "table", "row"], name="change_of_row"),
            models.Index(
                fields=["team", "lead"], condition=Q(removed=True), name="change_removed_of_lead"
            ),
            models.Index(fields=["team", "-at"], condition=Q(removed=True), name="change_removed"),
            models.Index(fields=["act"], name="change_of_act"),
        ]

    def __str__(self) -> str:
        return f"{self.table} {self.row}"
