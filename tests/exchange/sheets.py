"""Sheets for tests: written from dictionaries, taken in, and what the team knows afterwards."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from datetime import datetime
from typing import Any

from pipeline.exchange.columns import COLUMNS
from pipeline.exchange.reading import read
from pipeline.exchange.report import Report
from pipeline.exchange.taking_in import take_in
from pipeline.leads.models import Contact, Decision, Funding, Lead
from pipeline.teams.models import Team
from sessions.models import Deliverable, DiscoverySession
from tests.conftest import NOW


def sheet(rows: Iterable[dict[str, str]], columns: Iterable[str] = COLUMNS) -> bytes:
    """Return a CSV file of these rows."""
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, list(columns), restval="")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue().encode()


def bring(team: Team, rows: Any, *, now: datetime = NOW) -> Report:
    """Take rows, or the bytes of a file, in."""
    content = rows if isinstance(rows, bytes) else sheet(rows, _columns(rows))
    return take_in(team=team, table=read(content), member=None, now=now)


def _columns(rows: list[dict[str, str]]) -> list[str]:
    return list(dict.fromkeys(name for row in rows for name in row)) or ["organisation"]


def faults(report: Report) -> list[tuple[int, list[str]]]:
    """Return for each rejected row its line and the columns at fault."""
    return [(r.row.line, [f.column for f in r.faults]) for r in report.rejects]


def facts(team: Team, *, by: str = "reference") -> dict[str, dict[str, Any]]:
    """Return all facts of the team's leads that a sheet can hold, in plain values."""
    found: dict[str, dict[str, Any]] = {}
    key = {}
    for lead in Lead.objects.for_team(team).present().select_related("source", "index_format"):
        key[lead.pk] = name = getattr(lead, by)
        assert name not in found
        found[name] = {
            "organisation": lead.organisation,
            "source": lead.source.name if lead.source else None,
            "enquired_on": lead.enquired_on,
            "followed_since": lead.followed_since,
            "fee": (lead.expected_fee, lead.currency) if lead.expected_fee is not None else None,
            "standing": (lead.standing, lead.standing_since),
            "index": (lead.index_day, lead.index_format.name if lead.index_format else None),
            "contacts": set(),
            "sessions": {},
            "deliverables": set(),
            "decisions": {},
            "fundings": set(),
        }

    def of(table: Any, *related: str) -> Any:
        rows = table.objects.filter(team=team, lead__in=list(key))
        for row in rows.select_related("lead", *related).order_by("pk"):
            yield found[key[row.lead_id]], row

    for lead, c in of(Contact):
        lead["contacts"].add((c.name, c.email))
    for lead, s in of(DiscoverySession, "format"):
        named = s.format.name if s.format else ""
        assert (s.day, named) not in lead["sessions"]
        lead["sessions"][s.day, named] = (s.state, s.attendee_count, s.effort)
    for lead, d in of(Deliverable, "session__format"):
        s = d.session
        at = (s.day, s.format.name if s.format else "") if s else None
        lead["deliverables"].add((at, d.title, d.sent_on))
    for lead, d in of(Decision):
        expected = (d.funding_expected_on, d.funding_expected_on and d.expected_by_month)
        lead["decisions"][d.kind, d.day] = (d.fee, d.currency, expected)
    for lead, f in of(Funding):
        lead["fundings"].add(f.arrived_on)
    return found
