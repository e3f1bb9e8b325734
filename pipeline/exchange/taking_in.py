"""Take a sheet in: check its rows, find its leads, join, and write, in one transaction."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime

from django.db import transaction

from pipeline.leads.models import Lead
from pipeline.leads.settle import settle
from pipeline.teams.models import Member, Team
from sessions.models import Deliverable

from .checking import Reject, check
from .finding import Group, find
from .joining import Taking, join
from .known import Changes, Known, load
from .names import Names
from .reading import Table
from .report import Owed, Report
from .uniting import unite

# Leads that are in memory with all their facts at a time.
BATCH = 500


def look_through(*, team: Team, table: Table, now: datetime) -> Report:
    """Return what ``take_in`` would do now, and write nothing."""
    return _run(team, table, None, now, write=False)


@transaction.atomic
def take_in(*, team: Team, table: Table, member: Member | None, now: datetime) -> Report:
    """Write what the sheet says and the team doesn't know yet; nothing is sent.

    Of two imports into one team the second waits for the first, and finds what that wrote.
    """
    # no_key: rows that refer to the team may still be added meanwhile
    Team.objects.select_for_update(no_key=True).get(pk=team.pk)
    return _run(team, table, member, now, write=True)


def rejects(*, team: Team, table: Table, today: date) -> list[Reject]:
    """Return the bad rows as seen on ``today``, in the order of the sheet."""
    entries, bad = check(table, today)
    return _in_order(bad + find(team, entries)[1])


def _run(team: Team, table: Table, member: Member | None, now: datetime, *, write: bool) -> Report:
    today = team.today(now)
    entries, bad = check(table, today)
    groups, odd = find(team, entries)
    taking = Taking(
        team=team,
        names=Names(team),
        now=now,
        today=today,
        member=member,
        calendar=team.calendar(),
    )
    report = Report(
        rows=len(table.rows), unknown=list(table.unknown), rejects=_in_order(bad + odd)
    )
    for batch in _batches(groups):
        taking.changes = Changes()
        known = load(team, [g.lead for g in batch if g.lead is not None], lock=write)
        for group in batch:
            lead = known.get(group.lead or 0) or Known(_new_lead(taking, group))
            join(lead, unite(group.entries, currency=team.currency), taking)
        _count(report, taking, len(known))
        if write:
            _write(taking)
    report.facts_new, report.facts_matched = dict(taking.new), dict(taking.matched)
    report.formats = [f.name for f in taking.names.new_formats]
    report.sources = [s.name for s in taking.names.new_sources]
    return report


def _batches(groups: list[Group]) -> Iterator[list[Group]]:
    for start in range(0, len(groups), BATCH):
        yield groups[start : start + BATCH]


def _in_order(bad: list[Reject]) -> list[Reject]:
    return sorted(bad, key=lambda reject: reject.row.line)


def _new_lead(taking: Taking, group: Group) -> Lead:
    organisation = group.entries[0].organisation
    lead = Lead(
        team=taking.team,
        organisation=organisation,
        imported_as=organisation,
        fingerprint=group.fingerprint or None,
        currency=taking.team.currency,
        created_at=taking.now,
    )
    if group.reference:
        lead.reference = group.reference
    taking.changes.new_leads.append(lead)
    return lead


def _count(report: Report, taking: Taking, known: int) -> None:
    changes = taking.changes
    report.leads_new += len(changes.new_leads)
    report.leads_matched += known
    report.leads_changed += len(changes.changed)
    report.unsent += [
        Owed(d.lead.organisation, d.title, d.due_on)
        for d in changes.made[Deliverable]
        if d.owed and d.due_on < taking.today
    ]


def _write(taking: Taking) -> None:
    taking.names.store()
    changes = taking.changes
    # changed leads are told before the new ones get their keys
    touched = list(changes.changed)
    changes.store()
    settle(taking.team, [*touched, *(lead.pk for lead in changes.new_leads)], now=taking.now)
