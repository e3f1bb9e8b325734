"""Every table of a team that holds words, from the registry: a new one is looked through too."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

from django.apps import apps
from django.db import models
from django.urls import reverse

from pipeline.teams.models import Team, TeamOwned

# Rows that nobody edits by hand: what was sent, told, kept or taken in.
KEPT = {
    "discovery.batchitem",
    "discovery.calendarentry",
    "discovery.offer",
    "discovery.sharedtakeaway",
    "enquiries.enquiry",
    "exchange.sheet",
    "followups.consent",
    "followups.leadletter",
    "history.change",
    "jobs.job",
    "jobs.round",
    "leads.merge",
    "mail.letter",
    "rights.dataact",
    "teams.submission",
}
# What a kind of row is called where its table's own name would not tell it from another.
CALLED = {
    "discovery.afterhour": "note after the hour",
    "discovery.calendarentry": "invitation",
    "discovery.lanestep": "step of a lane chart",
    "discovery.offer": "offer of times",
    "discovery.sharedtakeaway": "takeaway sent by link",
    "discovery.writeup": "write-up",
    "enquiries.enquiry": "enquiry by the public page",
    "exchange.sheet": "spreadsheet taken in",
    "followups.consent": "agreement to letters",
    "followups.leadletter": "letter to a lead",
    "history.change": "history",
    "mail.letter": "letter",
}
# The page on which a row is edited, and the field whose key stands in its address.
PAGES = {
    "discovery.afterhour": ("after-hour", "session_id"),
    "discovery.deliverable": ("deliverable", "pk"),
    "discovery.discoverysession": ("session-edit", "pk"),
    "discovery.format": ("format", "pk"),
    "discovery.note": ("desk", "session_id"),
    "discovery.promise": ("format", "format_id"),
    "discovery.statement": ("desk", "session_id"),
    "discovery.step": ("format", "format_id"),
    "discovery.theme": ("desk", "session_id"),
    "discovery.writeup": ("write-up", "session_id"),
    "followups.followup": ("follow-up", "pk"),
    "followups.leadletter": ("lead-letter", "pk"),
    "followups.planstep": ("plan-step", "pk"),
    "leads.contact": ("contact-edit", "pk"),
    "leads.decision": ("decision-edit", "pk"),
    "leads.funding": ("funding-edit", "pk"),
    "leads.lead": ("lead-edit", "pk"),
    "leads.logentry": ("log-edit", "pk"),
    "leads.proposal": ("proposal-edit", "pk"),
    "mail.letter": ("letter", "pk"),
    "exchange.sheet": ("sheet", "pk"),
    "teams.absence": ("absence-edit", "pk"),
}
# Secrets and receipts: they say nothing of anybody.
SILENT = {"token", "claim", "currency", "timezone", "colour"}


@dataclass(frozen=True)
class Table:
    """A table of team rows, and its fields that hold words."""

    model: type[models.Model]
    fields: tuple[Any, ...]

    @property
    def label(self) -> str:
        return str(self.model._meta.label_lower)

    @property
    def called(self) -> str:
        return called(self.model)


def called(model: type[models.Model]) -> str:
    """Return in words what a row of ``model`` is."""
    return CALLED.get(model._meta.label_lower, str(model._meta.verbose_name))


@cache
def team_tables() -> tuple[Table, ...]:
    """Return the tables of a team's rows that hold words, in a lasting order."""
    found = []
    for model in apps.get_models():
        if issubclass(model, TeamOwned):
            fields = tuple(field for field in model._meta.concrete_fields if holds_words(field))
            if fields:
                found.append(Table(model, fields))
    return tuple(sorted(found, key=lambda table: table.label))


def holds_words(field: Any) -> bool:
    """Tell whether a field holds words that somebody may have typed."""
    texts = (models.CharField, models.TextField, models.JSONField, models.BinaryField)
    return isinstance(field, texts) and not field.choices and field.name not in SILENT


def by_hand(row: models.Model, field: Any) -> bool:
    """Tell whether somebody can edit this field of a row on a page."""
    kept = row._meta.label_lower in KEPT or getattr(row, "let_go", False)
    return bool(field.editable) and not kept


def page_of(row: models.Model, team: Team) -> str:
    """Return the address of the page of a row; empty for a row without one."""
    name, key = PAGES.get(row._meta.label_lower, ("", ""))
    if name:
        return reverse(name, args=[team.slug, getattr(row, key)])
    chart = getattr(row, "chart", None)
    if chart is not None:
        return reverse("lane-chart", args=[team.slug, chart.session_id])
    return ""
