"""What is restored elsewhere is what was there: each row, each file, each guard."""

import os
import stat
from datetime import timedelta

import pytest
from django.core.management import call_command
from django.db import connection

from pipeline.exchange.backup.restoring import restore_backup
from pipeline.exchange.backup.taking import take_backup
from pipeline.history.models import Change
from pipeline.leads.models import Lead
from pipeline.mail.models import Letter
from tests.conftest import NOW
from tests.exchange.backup.conftest import BEFORE, unheard
from tests.exchange.backup.places import elsewhere, every_file, every_guard, every_row
from tests.factories import LeadFactory


def test_every_row_file_and_guard_comes_back(archive, tmp_path):
    kept = every_row(), every_file(), every_guard()
    assert all(kept)
    assert len(kept[1]) > 3
    with elsewhere(tmp_path / "elsewhere"):
        restore_backup(archive, now=BEFORE, say=unheard)
        assert every_row() == kept[0]
        assert every_file() == kept[1]
        assert every_guard() == kept[2]
        assert not [path for path in (tmp_path / "elsewhere").iterdir() if path.name[0] == "."]


def test_the_program_goes_on_where_it_was_restored(archive, tmp_path):
    with elsewhere(tmp_path / "elsewhere"):
        restore_backup(archive, now=BEFORE, say=unheard)
        last = Lead.objects.order_by("-pk")[0]
        # New keys begin after the old ones, and the history is kept on.
        assert LeadFactory(team=last.team).pk > last.pk
        kept = Change.objects.of(last).count()
        Lead.objects.filter(pk=last.pk).update(organisation="Birch")
        assert Change.objects.of(last).count() == kept + 1


def test_an_older_one_is_brought_up_to_date(archive, tmp_path):
    kept, guards = every_row(), every_guard()
    with elsewhere(tmp_path / "older"):
        restore_backup(archive, now=BEFORE, say=unheard)
        call_command("migrate", "exchange", "zero", verbosity=0, interactive=False)
        assert "exchange_sheet" not in every_row()
        take_backup(tmp_path / "older.zip", now=NOW, say=unheard)
    with elsewhere(tmp_path / "newer"):
        restore_backup(tmp_path / "older.zip", now=BEFORE, say=unheard)
        found = every_row()
        assert found["exchange_sheet"] == []
        same = set(kept) - {"exchange_sheet", "django_migrations", "sqlite_sequence"}
        assert {table: found[table] for table in same} == {table: kept[table] for table in same}
        assert every_guard() == guards


def test_a_letter_that_may_have_gone_out_since_is_held_back_and_says_so(archive, cast, tmp_path):
    Letter.objects.all().delete()
    for key, hours in (("past", -1), ("ahead", 1)):
        due = NOW + timedelta(hours=hours)
        Letter.objects.create(
            team=cast.team,
            key=key,
            to="ada@fen.example",
            subject="Hello",
            text="Hello.",
            due_at=due,
            next_attempt_at=due,
        )
    take_backup(tmp_path / "letters.zip", now=NOW - timedelta(days=1), say=unheard)
    with elsewhere(tmp_path / "elsewhere"):
        held = restore_backup(tmp_path / "letters.zip", now=NOW, say=unheard).held
        past, ahead = (Letter.objects.get(key=key) for key in ("past", "ahead"))
        assert held == 1
        assert (past.next_attempt_at, past.gave_up_at) == (None, NOW)
        assert "backup of Mon 2 Mar 2026: it may have gone out since" in past.last_error
        assert (ahead.next_attempt_at, ahead.gave_up_at) == (ahead.due_at, None)


def test_only_its_owner_may_read_it_and_nothing_else_is_left(archive):
    assert stat.S_IMODE(os.stat(archive).st_mode) == 0o600
    assert sorted(path.name for path in archive.parent.iterdir() if path.is_file()) == ["kept.zip"]
    assert not list(archive.parent.glob(".kept*"))


def test_what_was_erased_before_is_in_no_part_of_it(archive, cast, tmp_path):
    if connection.vendor != "sqlite":
        pytest.skip("a dump holds the rows that are there, and nothing else")
    lead = LeadFactory(team=cast.team, organisation="Quillfeather Looms")
    Lead.objects.filter(pk=lead.pk).delete()
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM history_change")
    connection.close()
    take_backup(tmp_path / "after.zip", now=NOW, say=unheard)
    with elsewhere(tmp_path / "elsewhere") as there:
        restore_backup(tmp_path / "after.zip", now=BEFORE, say=unheard)
        assert b"Quillfeather" not in (there / "there.sqlite3").read_bytes()
