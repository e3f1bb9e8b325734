"""In production the program signs in with the role itself: then it has no other to go back to."""

import os

import psycopg
import pytest
from django.db import connection
from psycopg import errors

from pipeline.locks.installing import install
from tests.factories import LeadFactory
from tests.locks.rows import on_postgresql

pytestmark = [pytest.mark.django_db(transaction=True), on_postgresql]
FOR_TEAM = "SELECT set_config('pipeline.team', %s, true)"


@pytest.fixture
def role(settings):
    """A role of this test's own: the other is shared by all databases of the server."""
    usual = settings.APP_ROLE
    settings.APP_ROLE, settings.APP_PASSWORD = f"pipeline_try_{os.getpid()}", "kept well"
    install(using="default")
    yield settings.APP_ROLE
    with connection.cursor() as cursor:
        cursor.execute(f"DROP OWNED BY {settings.APP_ROLE}")
        cursor.execute(f"DROP ROLE {settings.APP_ROLE}")
    settings.APP_ROLE, settings.APP_PASSWORD = usual, ""
    install(using="default")


@pytest.fixture
def signed_in(role):
    params = connection.get_connection_params()
    with psycopg.connect(
        dbname=params["dbname"],
        host=params.get("host"),
        port=params.get("port"),
        user=role,
        password="kept well",
    ) as made:
        yield made


def test_it_sees_the_rows_of_the_team_it_asks_for(cast, signed_in):
    LeadFactory(team=cast.team, organisation="Alder")
    LeadFactory(team=cast.other_team, organisation="Birch")
    asked = "SELECT organisation FROM leads_lead"
    assert signed_in.execute(asked).fetchall() == []
    signed_in.execute(FOR_TEAM, [str(cast.team.pk)])
    assert signed_in.execute(asked).fetchall() == [("Alder",)]
    signed_in.rollback()
    assert signed_in.execute(asked).fetchall() == []


@pytest.mark.parametrize(
    "wish",
    [
        "SET ROLE {owner}",
        "SET SESSION AUTHORIZATION {owner}",
        "ALTER TABLE leads_lead DISABLE ROW LEVEL SECURITY",
        "DROP POLICY of_team ON leads_lead",
        "SET row_security = off; SELECT * FROM leads_lead",
        "TRUNCATE leads_lead",
        "INSERT INTO django_migrations (app, name, applied) VALUES ('a', 'b', now())",
        "SELECT * FROM pipeline_claim('teams_user', now(), '1 minute', gen_random_uuid())",
        "CREATE FUNCTION f() RETURNS int LANGUAGE sql AS 'SELECT 1'",
    ],
)
def test_it_cannot_get_past_the_policies(cast, signed_in, wish):
    owner = connection.settings_dict["USER"]
    with pytest.raises((errors.InsufficientPrivilege, errors.InvalidParameterValue)):
        signed_in.execute(wish.format(owner=owner))


def test_its_password_is_kept_as_the_server_keeps_passwords(role):
    with connection.cursor() as cursor:
        cursor.execute("SELECT rolpassword FROM pg_authid WHERE rolname = %s", [role])
        (kept,) = cursor.fetchone()
    assert kept.startswith("SCRAM-SHA-256$")
    assert "kept well" not in kept
