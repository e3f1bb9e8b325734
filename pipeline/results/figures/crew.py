"""What came of the sessions that each facilitator ran: for owners alone, and with a caution."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace

from pipeline.results.cohort import Cohort, Grouping
from pipeline.results.figures.conversion import Conversion, conversion
from pipeline.results.figures.side_by_side import SideBySide, side_by_side
from pipeline.teams.models import Member

BY_FACILITATOR = Grouping(
    "crew", "facilitator_id", "Facilitator", "facilitators", "nobody noted as facilitator"
)

CAUTION = (
    "Few sessions say little about a person, and leads are not dealt out by lot: who runs the "
    "sessions with the hardest leads will show fewer engagements. Use this to ask a question, "
    "never to judge anybody. Only owners see it."
)
RULES = (
    "A lead counts for the facilitator of its first held session, once. Conversion is read as "
    "for formats; nothing is said about who converts more where anybody has under ten "
    "engagements within the days compared.",
    CAUTION,
)


@dataclass(frozen=True)
class Crew:
    """Facilitators in order of name, compared as formats are; never for anybody but owners."""

    conversion: Conversion
    compared: SideBySide


def crew(cohort: Cohort) -> Crew:
    """Compute the figure, in two queries. Whoever hands it out sees to it that an owner asks."""
    found = _named(cohort, conversion(cohort, BY_FACILITATOR))
    return Crew(found, side_by_side(found))


def _named(cohort: Cohort, found: Conversion) -> Conversion:
    """Put names in the place of keys; of two with one name each is told by the address too."""
    members = {str(member.pk): member for member in _members(cohort, found)}
    often = Counter(str(member) for member in members.values())

    def name(key: str | None) -> str | None:
        if key is None:
            return None
        member = members[key]
        return f"{member} ({member.user.email})" if often[str(member)] > 1 else str(member)

    groups = [replace(group, name=name(group.name)) for group in found.groups]
    groups.sort(key=lambda group: (group.name is None, group.name or ""))
    return replace(found, groups=tuple(groups))


def _members(cohort: Cohort, found: Conversion) -> list[Member]:
    keys = [int(group.name) for group in found.groups if group.name is not None]
    return list(Member.objects.for_team(cohort.team).with_user().filter(pk__in=keys))
