"""That a person's data was handed out or erased: by whom, when and what for."""

from __future__ import annotations

from typing import Any

from django.db import models

from pipeline.leads.models import Contact
from pipeline.teams.models import TeamOwned, TeamQuerySet


class Done(models.TextChoices):
    """What was done with somebody's data."""

    HANDED_OUT = "handed out", "handed out"
    ERASED = "erased", "erased"


class DataActQuerySet(TeamQuerySet["DataAct"]):
    """Acts by what they are looked up for."""

    def newest_first(self) -> DataActQuerySet:
        """Return acts with what a list shows of them at hand."""
        rows = self.select_related("contact__lead", "by__user")
        return rows.order_by("-at", "-pk")


class DataAct(TeamOwned):
    """One act on one person's data. It names nobody: it outlives what it was done with."""

    done = models.CharField(max_length=10, choices=Done)
    # NULL: the person's row was removed since.
    contact = models.ForeignKey(Contact, models.SET_NULL, null=True, related_name="+")
    at = models.DateTimeField()
    # NULL: somebody who has left.
    by = models.ForeignKey("teams.Member", models.SET_NULL, null=True, related_name="+")
    what_for = models.CharField(max_length=300)

    objects: Any = DataActQuerySet.as_manager()

    class Meta:
        verbose_name = "note on data"
        indexes = [models.Index(fields=["team", "-at"], name="data_act_by_time")]

    def __str__(self) -> str:
        return f"{self.done} on {self.at:%Y-%m-%d}"
