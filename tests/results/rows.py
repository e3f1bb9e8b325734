"""A lead with its history in one line, and what came of it."""

from __future__ import annotations

from datetime import date

from pipeline.leads.models import Lead
from pipeline.results.cohort import Cohort
from pipeline.results.figures.results import Results, results
from pipeline.results.filters import Filters
from pipeline.teams.models import Team
from tests.factories import DecisionFactory, FormatFactory, LeadFactory, SessionFactory

INDEX = date(2025, 1, 10)
AS_OF = date(2025, 12, 31)


def add_lead(team: Team, *decisions: tuple[str, date], held: date = INDEX, **lead) -> Lead:
    """A lead with a session held on `held` and these decisions."""
    fmt = lead.pop("format", None) or FormatFactory._meta.model.objects.filter(team=team).first()
    made = LeadFactory(team=team, **lead)
    SessionFactory(
        lead=made, day=held, state="held", format=fmt or FormatFactory(team=team, name="hour")
    )
    for kind, day in decisions:
        DecisionFactory(lead=made, kind=kind, day=day)
    return made


def figures(team: Team, as_of: date = AS_OF, **filters) -> Results:
    return results(Cohort(team, as_of, Filters(**filters)))


def counts(team: Team, as_of: date = AS_OF) -> dict[str, int]:
    """The counts of the whole team that are not 0."""
    found = figures(team, as_of)
    names = ("leads_with_session", "engaged", "open", "closed", "reopened")
    told = {name: getattr(found.overall, name) for name in names}
    told["excluded"] = found.excluded
    return {name: number for name, number in told.items() if number}
