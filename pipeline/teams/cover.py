"""Who is away on a day, and whose work is whose meanwhile. Nobody's rows change owner for it."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from django.utils.formats import date_format

from .models import Absence, Member, Team, stand_ins


@dataclass(frozen=True)
class Cover:
    """The absences of one day, and who does the work of each who is away (``None``: nobody)."""

    absences: dict[int, Absence] = field(default_factory=dict)
    by: dict[int, int | None] = field(default_factory=dict)

    def of_nobody(self) -> list[int]:
        """Return who is away with nobody in their place: their work is everybody's."""
        return [away for away, by in self.by.items() if by is None]

    def covered_by(self, member: Member) -> list[int]:
        """Return whom ``member`` stands in for, by way of others too."""
        return [away for away, by in self.by.items() if by == member.pk]

    def whose(self, member: Member | None) -> str:
        """Return in words who does a member's work today; nothing for nobody's."""
        if member is None:
            return ""
        if member.pk not in self.absences:
            return str(member)
        by = self.stand_in(member.pk)
        absence = self.absences[member.pk]
        until = date_format(absence.last_day, "j M Y")
        if by is None:
            return f"nobody ({member} is away until {until})"
        return f"{by} (for {member}, away until {until})"

    def stand_in(self, away: int) -> Member | None:
        """Return who does the work of the member with this key, who is away."""
        by = self.by[away]
        named = (absence.stand_in for absence in self.absences.values())
        return next((m for m in named if m is not None and m.pk == by), None)

    def told(self, member: Member) -> list[str]:
        """Return what ``member`` should know of today: who is away, and what that makes theirs."""
        found = []
        for key, absence in self.absences.items():
            until = f"until {date_format(absence.last_day, 'D j M Y')}"
            by = self.stand_in(key)
            if key == member.pk:
                who = (
                    f"{by} does your work" if by else "nobody stands in: your work is everybody’s"
                )
                found.append(f"You are away {until}; {who}.")
            elif by is None:
                found.append(f"{absence.member} is away {until}, and nobody stands in.")
            elif by.pk == member.pk:
                found.append(f"You stand in for {absence.member}, who is away {until}.")
        return found


def cover_on(team: Team, day: date) -> Cover:
    """Return who is away from ``team`` on ``day``; one query."""
    absences = Absence.objects.on(team, day)
    return Cover({a.member_id: a for a in absences}, stand_ins(absences, day))
