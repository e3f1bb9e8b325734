"""Rows of effort, promises and waiting, each in one line."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

from pipeline.leads.models import Lead
from pipeline.results.cohort import Cohort
from pipeline.results.filters import Filters
from pipeline.teams.models import Team
from sessions.models import DiscoverySession
from tests.factories import DecisionFactory, DeliverableFactory

from .rows import AS_OF, INDEX, add_lead

DAY = timedelta(days=1)


def cohort(team: Team, as_of: date = AS_OF, **filters) -> Cohort:
    return Cohort(team, as_of, Filters(**filters))


def session_of(lead: Lead) -> DiscoverySession:
    return DiscoverySession.objects.get(lead=lead)


def give(lead: Lead, *minutes: int | None) -> Lead:
    """Note minutes before, during and after the lead's session."""
    names = ("effort_before", "effort_during", "effort_after")
    noted = dict(zip(names, minutes, strict=False))
    DiscoverySession.objects.filter(lead=lead).update(**noted)
    return lead


def engaged(
    team: Team, fee: int | str | None, currency: str = "EUR", *, after: int = 20, **lead
) -> Lead:
    """A lead that engaged some days after its session, for a fee."""
    made = add_lead(team, **lead)
    day = lead.get("held", INDEX) + after * DAY
    amount = None if fee is None else Decimal(fee)
    DecisionFactory(
        lead=made, kind="engaged", day=day, fee=amount, currency=currency if amount else ""
    )
    return made


def waited(team: Team, days: int, cause: str = "engaged", *, said: date = INDEX, **lead) -> Lead:
    """A lead that said “no budget yet” and returned or closed so many days later."""
    return add_lead(team, ("no budget yet", said), (cause, said + days * DAY), held=said, **lead)


def waiting(team: Team, since: date, **lead) -> Lead:
    """A lead that still waits."""
    return add_lead(team, ("no budget yet", since), held=since, **lead)


def promised(lead: Lead, *, due: int = 5, sent: int | None = None, waived: int | None = None):
    """Something promised at the lead's session; days are counted from the session's."""
    session = session_of(lead)

    def on(days: int | None) -> date | None:
        return None if days is None else session.day + days * DAY

    return DeliverableFactory(
        lead=lead,
        session=session,
        due_on=on(due),
        sent_on=on(sent),
        waived_on=on(waived),
    )
