"""Every change of a watched row is kept, whoever makes it: what, when, who."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.apps import apps
from django.conf import settings
from django.db import connection, transaction

from pipeline.history.models import Change
from pipeline.history.triggers import PREFIX
from pipeline.history.watched import watched
from pipeline.leads import recording
from pipeline.leads.models import Decision, Lead
from pipeline.teams.acting import acting
from tests.conftest import NOW
from tests.factories import DecisionFactory, FollowUpFactory, LeadFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def lead(cast):
    return LeadFactory(team=cast.team, organisation="Tide & Co")


def test_a_change_says_what_when_and_who(cast, lead):
    with acting(member=cast.member.pk, now=NOW):
        Lead.objects.filter(pk=lead.pk).update(organisation="Tide and Company")
    change = Change.objects.of(lead).get()
    assert change.said == {"organisation": ["Tide & Co", "Tide and Company"]}
    assert (change.member, change.at, change.team) == (cast.member, NOW, cast.team)
    assert change.removed is False
    assert change.lead == lead.pk


def test_it_is_kept_however_the_row_was_written(cast, lead):
    lead.note = "by save"
    lead.save()
    lead.note = "by version"
    lead.save_version(lead.version)
    lead.note = "by many at once"
    Lead.objects.bulk_update([lead], ["note"])
    with connection.cursor() as cursor:
        cursor.execute("UPDATE leads_lead SET note = 'by hand' WHERE id = %s", [lead.pk])
    Lead.objects.bulk_create(
        [lead], update_conflicts=True, unique_fields=["id"], update_fields=["note"]
    )
    said = [change.said["note"][1] for change in Change.objects.of(lead).order_by("pk")]
    assert said == ["by save", "by version", "by many at once", "by hand", "by many at once"]


def test_what_says_nothing_is_not_kept(lead):
    Lead.objects.filter(pk=lead.pk).update(standing="engaged", standing_since=date(2026, 3, 1))
    lead.save()
    lead.save_version(lead.version)
    assert not Change.objects.exists()


def test_what_is_entered_makes_no_change(cast, lead):
    FollowUpFactory(lead=lead)
    DecisionFactory(lead=lead)
    assert not Change.objects.exists()


def test_a_removed_row_is_kept_whole(cast, lead):
    decision = DecisionFactory(lead=lead, kind="declined", day=date(2026, 2, 1))
    with acting(member=cast.owner.pk, now=NOW):
        recording.remove_decision(decision=decision, now=NOW)
    change = Change.objects.filter(removed=True, table="leads_decision").get()
    assert (change.member, change.lead) == (cast.owner, lead.pk)
    assert set(change.said) == {field.column for field in Decision._meta.concrete_fields}


def test_a_change_that_was_taken_back_is_not_there(cast, lead):
    with transaction.atomic():
        Lead.objects.filter(pk=lead.pk).update(note="never")
        transaction.set_rollback(True)
    assert not Change.objects.exists()


def test_outside_any_act_the_program_did_it_by_itself(lead):
    Lead.objects.filter(pk=lead.pk).update(note="new")
    assert Change.objects.get().member is None


def test_acts_nest_and_the_outer_one_goes_on(cast, lead):
    later = NOW + timedelta(hours=1)
    with acting(member=cast.member.pk, now=NOW):
        with acting(member=cast.owner.pk, now=later):
            Lead.objects.filter(pk=lead.pk).update(note="inner")
        Lead.objects.filter(pk=lead.pk).update(note="outer")
    told = [(c.member, c.at) for c in Change.objects.of(lead).order_by("pk")]
    assert told == [(cast.owner, later), (cast.member, NOW)]


def test_a_team_that_goes_whole_leaves_nothing(cast, lead):
    Lead.objects.filter(pk=lead.pk).update(note="new")
    with acting(member=None, now=NOW, kept=False):
        cast.team.delete()
    assert not Change.objects.exists()


def test_a_page_that_edits_keeps_who_did_it(cast, lead, sign_in):
    browser = sign_in(cast.member)
    address = f"/t/harbour/leads/{lead.pk}/edit/"
    page = browser.get(address)
    data = {
        name: field.value() or ""
        for name in page.context["form"].fields
        for field in [page.context["form"][name]]
    }
    assert browser.post(address, {**data, "organisation": "Tide Works"}).status_code == 302
    change = Change.objects.of(lead).get()
    assert change.said["organisation"] == ["Tide & Co", "Tide Works"]
    assert change.member == cast.member


def test_every_kind_that_is_to_be_kept_is_watched_for_changes_and_removals():
    columns = {table.table: table.columns for table in watched()}
    for label in settings.HISTORY:
        assert columns[apps.get_model(label)._meta.db_table], label
    for label in settings.NO_HISTORY:
        assert apps.get_model(label)._meta.db_table not in columns, label


def test_the_triggers_are_there_for_each_watched_table():
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT name, tbl_name FROM sqlite_master WHERE type = 'trigger'")
        else:
            cursor.execute(
                "SELECT tgname, tgrelid::regclass::text FROM pg_trigger WHERE NOT tgisinternal"
            )
        there = {(name.split("_")[2], table) for name, table in cursor if PREFIX in name}
    wanted = {("removed", table.table) for table in watched()}
    wanted |= {("changed", table.table) for table in watched() if table.columns}
    assert wanted <= there


def test_moments_are_the_acts_own_whatever_the_zone(cast, lead):
    at = datetime(2026, 7, 1, 23, 30, 15, 250000, tzinfo=UTC)
    with acting(member=None, now=at):
        Lead.objects.filter(pk=lead.pk).update(note="late")
    assert Change.objects.get().at == at
