"""Triggers make way for a migration, which may drop what they speak of, and come back after it."""

import pytest
from django.db import connection

from pipeline.history.installing import install, make_way

pytestmark = pytest.mark.django_db

TRIGGERS = {
    "sqlite": "SELECT count(*) FROM sqlite_master WHERE type = 'trigger' AND name LIKE 'keep_%'",
    "postgresql": "SELECT count(*) FROM pg_trigger WHERE tgname LIKE 'keep_%'",
}[connection.vendor]


def count():
    with connection.cursor() as cursor:
        cursor.execute(TRIGGERS)
        return cursor.fetchone()[0]


def test_triggers_are_away_while_a_migration_runs_and_back_after_it():
    there = count()
    assert there > 30
    make_way(using="default", plan=[])
    assert count() == there
    make_way(using="default", plan=["a migration"])
    assert count() == 0
    install(using="default")
    assert count() == there


def test_a_column_of_a_watched_table_may_go():
    make_way(using="default", plan=["a migration"])
    with connection.cursor() as cursor:
        cursor.execute("ALTER TABLE leads_decision RENAME COLUMN reason TO said")
        cursor.execute("ALTER TABLE leads_contact DROP COLUMN role")
