"""A team's rows: each table names its team, also in everything that must be unique."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from django.apps import apps
from django.db import IntegrityError, models, transaction
from django.test.utils import isolate_apps

from pipeline.leads.models import Source
from pipeline.teams.models import TeamOwned

# Not below any team: people, teams, and Django's own bookkeeping.
OUTSIDE = {
    "accounts.attempts",
    "accounts.recoverycode",
    "accounts.signin",
    "auth.group",
    "auth.group_permissions",
    "auth.permission",
    "contenttypes.contenttype",
    "teams.team",
    "teams.user",
}
# In a team, without being one of its records; and the rows that only join two of a team's rows.
OF_TEAM_OTHERWISE = {"teams.member", "discovery.discoverysession_attendees"}
PINNED = {
    "accounts.invitation",
    "discovery.afterhour",
    "discovery.batch",
    "discovery.batchitem",
    "discovery.calendarentry",
    "discovery.caughtup",
    "discovery.crewplace",
    "discovery.deliverable",
    "discovery.desk",
    "discovery.discoverysession",
    "discovery.format",
    "discovery.lanechart",
    "discovery.lanestep",
    "discovery.note",
    "discovery.offer",
    "discovery.offeredtime",
    "discovery.offerplace",
    "discovery.opening",
    "discovery.promise",
    "discovery.runevent",
    "discovery.sharedtakeaway",
    "discovery.statement",
    "discovery.step",
    "discovery.steprun",
    "discovery.theme",
    "discovery.writeup",
    "enquiries.arrival",
    "enquiries.enquiry",
    "enquiries.enquirypage",
    "exchange.sheet",
    "followups.consent",
    "followups.digest",
    "followups.feed",
    "followups.followup",
    "followups.leadletter",
    "followups.planedition",
    "followups.planstep",
    "history.change",
    "jobs.job",
    "jobs.round",
    "leads.contact",
    "leads.decision",
    "leads.funding",
    "leads.lead",
    "leads.logentry",
    "leads.merge",
    "leads.proposal",
    "leads.source",
    "mail.letter",
    "mail.stoppedaddress",
    "results.exchangerate",
    "rights.dataact",
    "teams.absence",
    "teams.submission",
}


def every_table() -> dict[str, type[models.Model]]:
    return {m._meta.label_lower: m for m in apps.get_models(include_auto_created=True)}


def unique_sets(model: type[models.Model]) -> Iterator[tuple[str, set[str]]]:
    """Return the name and the fields of everything that must be unique in a table."""
    for field in model._meta.concrete_fields:
        if field.unique and not field.primary_key:
            yield f"{field.name} unique", {field.name}
    for fields in model._meta.unique_together:
        yield "unique_together", set(fields)
    for constraint in model._meta.constraints:
        if isinstance(constraint, models.UniqueConstraint):
            yield constraint.name, set(constraint.fields)


def without_team(model: type[models.Model]) -> list[str]:
    return [name for name, fields in unique_sets(model) if "team" not in fields]


def test_every_table_is_known_to_be_a_teams_or_not():
    owned = {label for label, model in every_table().items() if issubclass(model, TeamOwned)}
    assert owned == PINNED
    assert set(every_table()) == PINNED | OUTSIDE | OF_TEAM_OTHERWISE


@pytest.mark.parametrize("label", sorted(PINNED | {"teams.member"}))
def test_the_team_stands_in_everything_unique(label):
    model = every_table()[label]
    assert not model._meta.get_field("team").null
    assert without_team(model) == []


@pytest.mark.parametrize("label", sorted(PINNED))
def test_a_row_of_one_team_may_not_be_told_apart_by_a_field_alone(label):
    """A one-to-one field is unique across teams, whatever the constraints say."""
    model = every_table()[label]
    assert not [f.name for f in model._meta.concrete_fields if f.one_to_one]


@isolate_apps("pipeline.teams")
def test_a_unique_field_without_its_team_is_found():
    class Wrong(TeamOwned):
        code = models.CharField(max_length=3, unique=True)
        name = models.CharField(max_length=3)

        class Meta:
            app_label = "teams"
            constraints = [models.UniqueConstraint(fields=["name"], name="wrong")]

    assert without_team(Wrong) == ["code unique", "wrong"]


def test_two_teams_may_use_the_same_word_and_one_team_not_twice(cast):
    Source.objects.create(team=cast.team, name="fair")
    Source.objects.create(team=cast.other_team, name="fair")
    with pytest.raises(IntegrityError), transaction.atomic():
        Source.objects.create(team=cast.team, name="fair")
