"""Many leads at once, each told by the days of its history."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal
from itertools import count

from pipeline.leads.models import Decision, Funding, Lead
from pipeline.teams.models import Team
from sessions.models import DiscoverySession
from tests.conftest import NOW

number = count()


@dataclass
class History:
    """Days are counted from `held`; decisions by kind."""

    held: date
    decisions: dict[str, int] = field(default_factory=dict)
    funded: int | None = None
    fee: Decimal | None = None
    currency: str = "EUR"
    session: dict = field(default_factory=dict)
    lead: dict = field(default_factory=dict)


def store(team: Team, histories: list[History]) -> list[Lead]:
    """Write them in four statements, whatever their number."""
    leads = [
        Lead(
            team=team,
            created_at=NOW,
            **{"organisation": f"Lead {next(number)}", "currency": "EUR", **history.lead},
        )
        for history in histories
    ]
    Lead.objects.bulk_create(leads)
    sessions, decisions, fundings = [], [], []
    for lead, history in zip(leads, histories, strict=True):
        common = {"team": team, "lead": lead, "recorded_at": NOW}
        sessions.append(
            DiscoverySession(**common, day=history.held, state="held", **history.session)
        )
        for kind, days in history.decisions.items():
            paid = kind == "engaged" and history.fee is not None
            decisions.append(
                Decision(
                    **common,
                    kind=kind,
                    day=history.held + timedelta(days=days),
                    fee=history.fee if paid else None,
                    currency=history.currency if paid else "",
                )
            )
        if history.funded is not None:
            arrived = history.held + timedelta(days=history.funded)
            fundings.append(Funding(**common, arrived_on=arrived))
    DiscoverySession.objects.bulk_create(sessions)
    Decision.objects.bulk_create(decisions)
    Funding.objects.bulk_create(fundings)
    return leads
