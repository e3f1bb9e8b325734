"""Which rows are one lead, and which lead of the team that is.

Rows that share ``lead_ref`` are one lead, known by its reference. A row without is a lead by
itself, known by its fingerprint: the digest of its trimmed cells, and how many equal rows of the
sheet stand before it. A lead that was merged into another is found as that one; what it says of
itself is not said of the other.

All good rows of one reference must name the same organisation: that of the first good row, and
that of the team's lead with this reference, by its name of today or by that with which a sheet
once brought it. Case and inner spaces don't matter.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Any

from pipeline.leads.models import DecisionKind, Lead
from pipeline.teams.models import Team

from .checking import NOTHING, Entry, Reject, last_of
from .columns import Fault

# Keeps the lists in IN (…) within what every database takes.
BATCH = 500


@dataclass(slots=True)
class Group:
    """The good rows of one lead; ``lead`` is its key where the team has it already."""

    reference: str = ""
    fingerprint: str = ""
    entries: list[Entry] = field(default_factory=list)
    lead: int | None = None


@dataclass(frozen=True, slots=True)
class _Stored:
    pk: int
    organisations: tuple[str, ...]
    merged_into: int | None
    # What it says of itself, by column, and its note.
    own: dict[str, Any]
    note: str


def find(team: Team, entries: Iterable[Entry]) -> tuple[list[Group], list[Reject]]:
    """Return the leads of these rows in the order of the sheet, and the rows that don't fit."""
    groups = _grouped(entries)
    by_reference = _stored(team, "reference", [g.reference for g in groups if g.reference])
    by_print = _stored(team, "fingerprint", [g.fingerprint for g in groups if g.fingerprint])
    rejects: list[Reject] = []
    for group in groups:
        stored = by_reference.get(group.reference) or by_print.get(group.fingerprint)
        if group.reference:
            rejects += _part_by_organisation(group, stored)
        group.lead = stored.pk if stored else None
        if stored and stored.merged_into:
            group.entries = [_without_own(entry, stored) for entry in group.entries]
    kept = _kept(team, [s for s in (*by_reference.values(), *by_print.values()) if s.merged_into])
    return _one_for_each_lead(groups, kept), rejects


def _grouped(entries: Iterable[Entry]) -> list[Group]:
    groups: dict[tuple[str, str], Group] = {}
    equal: Counter[str] = Counter()
    for entry in entries:
        if entry.lead_ref:
            key = (entry.lead_ref, "")
        else:
            equal[entry.digest] += 1
            key = ("", f"{entry.digest}:{equal[entry.digest]}")
        groups.setdefault(key, Group(*key)).entries.append(entry)
    return list(groups.values())


def _stored(team: Team, column: str, values: list[str]) -> dict[str, _Stored]:
    found = {}
    for start in range(0, len(values), BATCH):
        rows = Lead.objects.for_team(team).filter(
            **{f"{column}__in": values[start : start + BATCH]}
        )
        for lead in rows.select_related("source"):
            names = (lead.organisation, lead.imported_as or lead.organisation)
            own = {
                "source": lead.source.name if lead.source else "",
                "enquired_on": lead.enquired_on,
                "followed_since": lead.followed_since,
                "fee": lead.expected_fee,
            }
            found[getattr(lead, column)] = _Stored(
                lead.pk, names, lead.merged_into_id, own, f"\n{lead.note}\n"
            )
    return found


def _without_own(entry: Entry, stored: _Stored) -> Entry:
    """Leave out what a lead that was merged away holds itself: the kept one need not say it."""

    def noted(column: str, value: Any) -> bool:
        return f"\n{column}: {value}\n" in stored.note

    blank = {
        column: NOTHING[column]
        for column, value in stored.own.items()
        if getattr(entry, column) == value or noted(column, getattr(entry, column))
    }
    if last_of(entry, DecisionKind.ENGAGED):
        # this fee is the engagement's, not the one expected of the lead
        blank.pop("fee", None)
    extra = tuple((column, value) for column, value in entry.extra if not noted(column, value))
    return replace(entry, extra=extra, **blank)


def _part_by_organisation(group: Group, stored: _Stored | None) -> list[Reject]:
    """Take out of the group, and return, the rows whose organisation is unlike the lead's."""
    names = stored.organisations if stored else (group.entries[0].organisation,)
    like = {_plain(name) for name in names}
    odd = [entry for entry in group.entries if _plain(entry.organisation) not in like]
    if odd:
        group.entries = [e for e in group.entries if _plain(e.organisation) in like]
    mend = f"The lead {group.reference} is “{names[0]}”: write that, or another lead_ref."
    return [Reject(e.row, (Fault("organisation", e.organisation, mend),)) for e in odd]


def _plain(name: str) -> str:
    return " ".join(name.casefold().split())


def _kept(team: Team, merged: list[_Stored]) -> dict[int, int]:
    """Return for each of these leads the one that it was merged into in the end."""
    into = {lead.pk: lead.merged_into for lead in merged if lead.merged_into}
    ahead = set(into.values()) - set(into)
    while ahead:
        rows = Lead.objects.for_team(team).filter(pk__in=ahead, merged_into__isnull=False)
        further = {pk: kept for pk, kept in rows.values_list("pk", "merged_into") if kept}
        into |= further
        ahead = set(further.values()) - set(into)

    def end(pk: int) -> int:
        seen = set()
        while pk in into and pk not in seen:
            seen.add(pk)
            pk = into[pk]
        return pk

    return {pk: end(pk) for pk in into}


def _one_for_each_lead(groups: list[Group], kept: dict[int, int]) -> list[Group]:
    """Put together what was merged into one lead since; leave out what has no good row."""
    by_lead: dict[int, Group] = {}
    found = []
    for group in groups:
        if not group.entries:
            continue
        if group.lead is not None:
            group.lead = kept.get(group.lead, group.lead)
            first = by_lead.setdefault(group.lead, group)
            if first is not group:
                first.entries += group.entries
                continue
        found.append(group)
    return found
