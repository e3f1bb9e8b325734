"""The locks are brought in line with the tables: once, again, and where something is missing."""

import pytest
from django.core.management.base import CommandError
from django.db import connection, connections
from django.test.utils import CaptureQueriesContext

from pipeline.locks.installing import install, make_way
from tests.locks.rows import on_postgresql

pytestmark = pytest.mark.django_db


def count(sql):
    with connection.cursor() as cursor:
        cursor.execute(sql)
        return cursor.fetchone()[0]


ON_SQLITE = "SELECT count(*) FROM sqlite_master WHERE name LIKE 'same_team_%'"
POLICIES = "SELECT count(*) FROM pg_policies"
KEYS = "SELECT count(*) FROM pg_constraint WHERE conname LIKE 'same_team_%'"


def test_where_nothing_has_changed_nothing_is_done():
    with CaptureQueriesContext(connection) as asked:
        install(using="default")
    words = {query["sql"].split()[0] for query in asked}
    assert words <= {"SELECT", "SAVEPOINT", "RELEASE"}


@pytest.mark.skipif(connection.vendor != "sqlite", reason="PostgreSQL keeps its keys")
def test_a_trigger_makes_way_for_a_migration_and_comes_back():
    there = count(ON_SQLITE)
    assert there > 100
    make_way(using="default", plan=[])
    assert count(ON_SQLITE) == there
    make_way(using="default", plan=["a migration"])
    assert count(ON_SQLITE) == 0
    install(using="default")
    assert count(ON_SQLITE) == there


@on_postgresql
@pytest.mark.parametrize(
    "lost",
    [
        "DROP POLICY of_team ON leads_lead",
        "ALTER TABLE leads_lead DISABLE ROW LEVEL SECURITY",
        "ALTER TABLE leads_contact DROP CONSTRAINT same_team_leads_contact_lead_id",
        "REVOKE INSERT ON leads_lead FROM pipeline_app",
    ],
)
def test_what_was_lost_comes_back(lost):
    secured = "SELECT count(*) FROM pg_class WHERE relrowsecurity"
    granted = "SELECT has_table_privilege('pipeline_app', 'leads_lead', 'INSERT')"
    asked = (POLICIES, KEYS, secured, granted)
    before = [count(sql) for sql in asked]
    with connection.cursor() as cursor:
        cursor.execute(lost)
    assert [count(sql) for sql in asked] != before
    install(using="default")
    assert [count(sql) for sql in asked] == before


@on_postgresql
def test_what_is_no_longer_meant_goes():
    before = count(KEYS)
    with connection.cursor() as cursor:
        cursor.execute("ALTER TABLE leads_lead ADD CONSTRAINT same_team_old UNIQUE (team_id, id)")
    install(using="default")
    assert count(KEYS) == before


@on_postgresql
def test_without_the_right_to_make_the_role_it_says_what_an_administrator_must_run(settings):
    settings.APP_ROLE = "pipeline_of_somebody_else"
    with connection.cursor() as cursor:
        cursor.execute("SET ROLE pipeline_app")
    try:
        with pytest.raises(CommandError) as said:
            install(using="default")
    finally:
        with connections["default"].cursor() as cursor:
            cursor.execute("RESET ROLE")
    assert 'CREATE ROLE "pipeline_of_somebody_else" NOLOGIN NOBYPASSRLS; GRANT' in str(said.value)
