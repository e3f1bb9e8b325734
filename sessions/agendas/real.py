"""Planned against real: how long the steps of a format took over all its sessions."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Avg, Count, Max, Min

from sessions.models import Format, Step, StepRun


@dataclass(frozen=True)
class RealMinutes:
    """One step: the minutes planned, and the real ones over so many sessions."""

    step: Step
    sessions: int
    # Minutes; None where the step was never run at the desk.
    mean: float | None = None
    least: float | None = None
    most: float | None = None

    @property
    def over(self) -> float | None:
        """By how many minutes the step takes longer than planned, on average."""
        return None if self.mean is None else self.mean - self.step.minutes


def planned_against_real(format: Format) -> list[RealMinutes]:
    """Return every step of ``format`` with its real minutes; empty where none was ever run."""
    runs = StepRun.objects.filter(team=format.team_id, step__format=format)
    found = {
        row["step"]: row
        for row in runs.order_by()
        .values("step")
        .annotate(
            sessions=Count("session"),
            mean=Avg("seconds"),
            least=Min("seconds"),
            most=Max("seconds"),
        )
    }
    if not found:
        return []
    told = []
    for step in format.steps.all():
        row = found.get(step.pk)
        if row is None:
            told.append(RealMinutes(step, 0))
            continue
        minutes = {name: row[name] / 60 for name in ("mean", "least", "most")}
        told.append(RealMinutes(step, row["sessions"], **minutes))
    return told
