"""Two leads side by side, and what a merge moves, in words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.apps import apps
from django.db import models
from django.db.models import Count

from pipeline.teams.templatetags.show import day, money

from .merging import references
from .models import Lead, Merge


@dataclass(frozen=True)
class Line:
    """One thing about two leads."""

    label: str
    one: str
    two: str

    @property
    def differs(self) -> bool:
        """Whether they say different things."""
        return self.one != self.two


def compare(one: Lead, two: Lead) -> list[Line]:
    """Return what the two leads say of themselves, then how many rows each has."""
    told = [Line(label, a, b) for (label, a), (_, b) in zip(_told(one), _told(two), strict=True)]
    return told + _counted(one, two)


def _told(lead: Lead) -> list[tuple[str, str]]:
    people = ", ".join(str(contact) for contact in lead.contacts.all())
    since = f", since {day(lead.standing_since)}" if lead.standing_since else ""
    return [
        ("Organisation", lead.organisation),
        ("People", people or "—"),
        ("Standing", f"{lead.get_standing_display()}{since}"),
        ("First session held", day(lead.index_day)),
        ("Owner", str(lead.owner or "nobody")),
        ("Source", str(lead.source or "—")),
        ("Day of the enquiry", day(lead.enquired_on)),
        ("Budget at entry", money(lead.budget_at_entry, lead.currency)),
        ("Expected fee", money(lead.expected_fee, lead.currency)),
        ("Followed since", day(lead.followed_since)),
        ("Reference", lead.reference),
        ("Note", lead.note or "—"),
    ]


def _counted(one: Lead, two: Lead) -> list[Line]:
    lines = []
    for _, model, field in references():
        rows = model._base_manager.filter(**{f"{field}__in": [one, two]})
        counts: dict[Any, int] = dict(rows.values_list(field).annotate(n=Count("pk")))
        if counts:
            numbers = [str(counts.get(lead.pk, 0)) for lead in (one, two)]
            lines.append(Line(_plural(model).capitalize(), *numbers))
    return lines


def moved_in_words(merge: Merge) -> str:
    """Return what the merge moved, such as ``2 contacts, 1 proposal``."""
    parts = []
    for label, pks in merge.moved.items():
        model: type[models.Model] = apps.get_model(label.rpartition(".")[0])
        name = str(model._meta.verbose_name) if len(pks) == 1 else _plural(model)
        parts.append(f"{len(pks)} {name}")
    return ", ".join(parts) or "nothing"


def _plural(model: type[models.Model]) -> str:
    return str(model._meta.verbose_name_plural)
