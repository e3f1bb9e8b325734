"""What an import makes of a sheet, in counts and in words."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date
from typing import Any, NamedTuple

from .checking import Reject


class Owed(NamedTuple):
    """A deliverable of the sheet that was not sent though its day is over."""

    organisation: str
    title: str
    due_on: date


@dataclass
class Report:
    """One reading of a sheet. A dry run gives the same as the import would."""

    rows: int = 0
    leads_new: int = 0
    # Found again; of these, so many got something that they lacked.
    leads_matched: int = 0
    leads_changed: int = 0
    # By kind: contacts, sessions, deliverables, decisions, fundings.
    facts_new: dict[str, int] = field(default_factory=dict)
    facts_matched: dict[str, int] = field(default_factory=dict)
    formats: list[str] = field(default_factory=list)
    sources: list[str] = field(default_factory=list)
    # Columns that the import doesn't know; kept as notes.
    unknown: list[str] = field(default_factory=list)
    # These two stand in the sheet itself; of them only the numbers are stored.
    unsent: list[Owed] = field(default_factory=list)
    rejects: list[Reject] = field(default_factory=list)

    def as_json(self) -> dict[str, Any]:
        """Return the counts for storing."""
        kept = {k: v for k, v in vars(self).items() if k not in ("unsent", "rejects")}
        return {**kept, "unsent": len(self.unsent), "rejected": len(self.rejects)}

    @property
    def words(self) -> list[tuple[str, str]]:
        """The counts in words."""
        return told(self.as_json())


def told(counts: dict[str, Any]) -> list[tuple[str, str]]:
    """Return stored counts as pairs of what is counted, and how many."""
    return list(_pairs(counts))


def _pairs(counts: dict[str, Any]) -> Iterator[tuple[str, str]]:
    yield "rows", f"{counts['rows']}, of which {counts['rejected']} rejected"
    yield (
        "leads",
        f"{counts['leads_new']} new, {counts['leads_matched']} matched, of which "
        f"{counts['leads_changed']} changed",
    )
    new, matched = counts["facts_new"], counts["facts_matched"]
    for kind in sorted({*new, *matched}):
        yield kind, f"{new.get(kind, 0)} new, {matched.get(kind, 0)} matched"
    for label, names in (
        ("formats created", counts["formats"]),
        ("sources created", counts["sources"]),
        ("columns kept as notes", counts["unknown"]),
    ):
        if names:
            yield label, ", ".join(names)
    if counts["unsent"]:
        yield "old unsent deliverables", str(counts["unsent"])
