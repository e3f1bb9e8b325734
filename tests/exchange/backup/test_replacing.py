"""What is there stays until the backup has taken its place, and only goes when that is said."""

import os
import sqlite3
from dataclasses import replace
from pathlib import Path

import psycopg
import pytest
from django.conf import settings
from django.db import DatabaseError, connection

from pipeline.exchange.backup import on_postgresql
from pipeline.exchange.backup.archive import opened
from pipeline.exchange.backup.restoring import restore_backup
from pipeline.exchange.backup.taking import take_backup
from pipeline.leads.models import Lead
from pipeline.mail.models import StoppedAddress, digest_of
from pipeline.teams.models import Team
from pipeline.teams.refused import Refused
from tests.conftest import NOW
from tests.exchange.backup.conftest import BEFORE, unheard
from tests.exchange.backup.places import elsewhere, every_file, every_guard, every_row, let_go
from tests.factories import LeadFactory
from tests.locks.rows import on_postgresql as only_on_postgresql

only_on_sqlite = pytest.mark.skipif(connection.vendor != "sqlite", reason="about SQLite's file")


@pytest.fixture
def used(archive, cast, tmp_path):
    """A place where somebody works; returns the backup of another."""
    with elsewhere(tmp_path / "used", copied=True):
        LeadFactory(team=cast.team, organisation="Since then")
        upload("team-1/since.pdf")
        yield archive


def upload(name):
    file = Path(settings.MEDIA_ROOT) / name
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_bytes(b"%PDF-1.4 since")


def taken(path, **change):
    with opened(path, on_postgresql.MEMBER) as found:
        return replace(found.manifest, **change)


def state():
    return every_row(), every_file(), every_guard()


def test_what_is_in_use_is_replaced_only_where_that_is_said(used):
    before = state()
    with pytest.raises(Refused, match="in use by somebody; with --replace"):
        restore_backup(used, now=BEFORE, say=unheard)
    assert state() == before
    restore_backup(used, now=BEFORE, say=unheard, replace=True)
    assert not Lead.objects.filter(organisation="Since then").exists()
    assert "team-1/since.pdf" not in every_file()
    assert not [name for name in os.listdir(Path(settings.MEDIA_ROOT).parent) if name[0] == "."]


def test_who_asked_for_no_more_letters_since_stays_known(used, cast):
    asked = {"ada@fen.example": cast.team, "bo@fen.example": cast.other_team}
    for address, team in asked.items():
        stopped = StoppedAddress(team=team, address=digest_of(address), stopped_at=NOW)
        stopped.save()
    # Of a team that the backup does not know under this name.
    Team.objects.filter(pk=cast.other_team.pk).update(slug="renamed")
    known = StoppedAddress.objects.for_team(cast.team).count()
    restored = restore_backup(used, now=BEFORE, say=unheard, replace=True)
    assert restored.stopped == 1
    assert StoppedAddress.objects.of(cast.team, ["ada@fen.example"]) == {"ada@fen.example": NOW}
    assert StoppedAddress.objects.for_team(cast.team).count() == known
    assert not StoppedAddress.objects.has(cast.other_team, "bo@fen.example")


def test_uploads_alone_are_not_replaced_either(archive, tmp_path):
    with elsewhere(tmp_path / "used"):
        upload("team-1/since.pdf")
        with pytest.raises(Refused, match="There are uploads in"):
            restore_backup(archive, now=BEFORE, say=unheard)
        assert list(every_file()) == ["team-1/since.pdf"]


def fail(*args, **kwargs):
    raise DatabaseError("no more room")


@pytest.mark.parametrize("where", ["call_command", "_hold_letters", "os.rename"])
def test_where_it_fails_on_the_way_all_is_as_before(used, monkeypatch, where):
    before = state()
    monkeypatch.setattr(f"pipeline.exchange.backup.restoring.{where}", fail)
    with pytest.raises(DatabaseError):
        restore_backup(used, now=BEFORE, say=unheard, replace=True)
    monkeypatch.undo()
    assert state() == before
    assert Lead.objects.filter(organisation="Since then").exists()


def test_where_the_new_uploads_cannot_be_put_there_the_old_ones_are_back(used, monkeypatch):
    before, rename = state(), os.rename

    def second_fails(source, target):
        if Path(source).name == "files" and Path(target) == Path(settings.MEDIA_ROOT):
            raise OSError("no more room")
        rename(source, target)

    monkeypatch.setattr("pipeline.exchange.backup.restoring.os.rename", second_fails)
    with pytest.raises(OSError, match="no more room"):
        restore_backup(used, now=BEFORE, say=unheard, replace=True)
    monkeypatch.undo()
    assert state() == before


@only_on_sqlite
def test_while_the_program_uses_its_file_it_is_refused(used):
    before = state()
    other = sqlite3.connect(connection.settings_dict["NAME"], isolation_level=None)
    other.execute("BEGIN")
    other.execute("SELECT count(*) FROM leads_lead").fetchone()
    try:
        with pytest.raises(Refused, match="stop it"):
            restore_backup(used, now=BEFORE, say=unheard, replace=True)
    finally:
        other.close()
    assert state() == before


@only_on_sqlite
def test_a_database_that_cannot_be_read_is_to_be_moved_away(used):
    let_go()
    file = Path(connection.settings_dict["NAME"])
    file.write_bytes(b"nothing that can be read" * 500)
    for beside in ("-wal", "-shm"):
        file.with_name(file.name + beside).unlink(missing_ok=True)
    with pytest.raises(Refused, match="can't be read"):
        restore_backup(used, now=BEFORE, say=unheard)


@only_on_postgresql
def test_while_the_program_is_connected_it_is_refused(used):
    before = state()
    params = connection.get_connection_params()
    keys = {"dbname", "host", "port", "user", "password"}
    with (
        psycopg.connect(**{k: v for k, v in params.items() if k in keys}),
        pytest.raises(Refused, match=r"1 other connection is open .* stop the web"),
    ):
        restore_backup(used, now=BEFORE, say=unheard, replace=True)
    assert state() == before


@only_on_postgresql
def test_the_role_of_the_web_neither_keeps_nor_restores(archive, settings, tmp_path):
    settings.APP_ROLE = connection.settings_dict["USER"]
    with pytest.raises(Refused, match="the login that owns the tables"):
        take_backup(tmp_path / "next.zip", now=NOW, say=unheard)
    with pytest.raises(Refused, match="the login that owns the tables"):
        on_postgresql.refuse_here(taken(archive))


@only_on_postgresql
def test_programs_that_are_too_old_are_named(archive, tmp_path):
    old = tmp_path / "pg_dump"
    old.write_text("#!/bin/sh\necho 'pg_dump (PostgreSQL) 9.6.1'\n")
    old.chmod(0o755)
    with pytest.raises(Refused, match=r"needs pg_dump of version \d+ or later, and too old is"):
        take_backup(tmp_path / "next.zip", now=NOW, say=unheard, programs=tmp_path)
    with pytest.raises(Refused, match="none is found"):
        take_backup(tmp_path / "next.zip", now=NOW, say=unheard, programs=tmp_path / "none")


@only_on_postgresql
def test_a_newer_server_or_another_schema_is_refused(archive):
    changes = {"server": (99, "of version"), "schema": ("own", "in the schema own")}
    for name, (value, words) in changes.items():
        with pytest.raises(Refused, match=words):
            on_postgresql.refuse_here(taken(archive, **{name: value}))


@only_on_postgresql
def test_an_extension_in_its_schema_is_to_be_moved_first(used):
    with connection.cursor() as cursor:
        cursor.execute("CREATE EXTENSION pg_trgm")
    with pytest.raises(Refused, match="ALTER EXTENSION pg_trgm SET SCHEMA extensions"):
        restore_backup(used, now=BEFORE, say=unheard, replace=True)
