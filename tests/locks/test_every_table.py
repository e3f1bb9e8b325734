"""Every table with a team shows its own team's rows, takes no other's, and without one nothing."""

import pytest
from django.db import Error, connection, transaction

from pipeline.locks.asking import as_bearer, as_team, as_user, as_watcher, locked
from pipeline.teams.models import Member
from tests.locks.rows import JOINS, TABLES, on_postgresql, row_in, unsaved

pytestmark = [pytest.mark.django_db, on_postgresql]


def asked(sql, *params):
    with connection.cursor() as cursor:
        cursor.execute(sql, params)
        return [row[0] for row in cursor.fetchall()]


def open_tables():
    """Return the tables with a team's rows which no policy holds back."""
    held = asked(
        "SELECT tablename FROM pg_policies JOIN pg_class ON relname = tablename"
        " WHERE policyname = 'of_team' AND cmd = 'ALL' AND relrowsecurity"
        " AND qual LIKE '%%pipeline.team%%' AND with_check LIKE '%%pipeline.team%%'"
    )
    every = {model._meta.db_table for model in (TABLES | JOINS).values()}
    return every - set(held)


def test_every_table_with_a_team_has_its_policy():
    assert len(TABLES) > 40
    assert "discovery.discoverysession_attendees" in JOINS
    assert open_tables() == set()


def test_a_table_without_its_policy_is_found():
    with connection.cursor() as cursor:
        cursor.execute("DROP POLICY of_team ON leads_lead")
        cursor.execute("ALTER TABLE leads_contact DISABLE ROW LEVEL SECURITY")
    assert open_tables() == {"leads_lead", "leads_contact"}


@pytest.fixture
def both(cast, request):
    """A table, and a row of each team in it."""
    model = TABLES[request.param]
    one = cast.member if model is Member else row_in(model, cast.team)
    other = cast.other_owner if model is Member else row_in(model, cast.other_team)
    return model._meta.db_table, one, other


every_table = pytest.mark.parametrize("both", sorted(TABLES), indirect=True)


@every_table
def test_a_question_that_forgets_the_team_gets_nothing(both):
    table, _, _ = both
    assert len(set(asked(f"SELECT team_id FROM {table}"))) == 2
    with locked():
        assert asked(f"SELECT id FROM {table}") == []
        with as_user(None), as_bearer(""):
            assert asked(f"SELECT id FROM {table}") == []


@every_table
def test_a_team_sees_its_own_rows_alone(both, cast):
    table, one, other = both
    with locked(), as_team(cast.team.pk):
        assert set(asked(f"SELECT team_id FROM {table}")) == {cast.team.pk}
        assert asked(f"SELECT id FROM {table} WHERE id = %s", one.pk) == [one.pk]
        assert asked(f"UPDATE {table} SET id = id WHERE id = %s RETURNING 1", other.pk) == []
        assert asked(f"DELETE FROM {table} WHERE id = %s RETURNING 1", other.pk) == []


@every_table
def test_a_row_for_another_team_is_refused(both, cast):
    table, one, other = both
    model = type(one)
    another = unsaved(model, cast.other_team)
    violates = pytest.raises(Error, match="violates row-level security policy")
    with locked(), as_team(cast.team.pk):
        with violates, transaction.atomic():
            another.save_base(raw=True, force_insert=True)
        with violates, transaction.atomic():
            asked(
                f"UPDATE {table} SET team_id = %s WHERE id = %s RETURNING 1", other.team_id, one.pk
            )
    with locked(), violates, transaction.atomic():
        unsaved(model, cast.team).save_base(raw=True, force_insert=True)


@pytest.mark.parametrize("label", sorted(JOINS))
def test_what_joins_two_rows_is_seen_by_their_team_alone(cast, label):
    model = JOINS[label]
    for team in (cast.team, cast.other_team):
        row_in(model, team)
    table = model._meta.db_table
    assert len(asked(f"SELECT id FROM {table}")) == 2
    others = unsaved(model, cast.other_team)
    with locked():
        assert asked(f"SELECT id FROM {table}") == []
        with as_team(cast.team.pk):
            assert len(asked(f"SELECT id FROM {table}")) == 1
            with pytest.raises(Error, match="row-level security"), transaction.atomic():
                others.save_base(raw=True, force_insert=True)


def test_a_person_sees_their_own_memberships_and_changes_none(cast):
    elsewhere = Member.objects.create(team=cast.other_team, user=cast.member.user)
    with locked(), as_user(cast.member.user_id):
        mine = asked("SELECT id FROM teams_member")
        assert sorted(mine) == sorted([cast.member.pk, elsewhere.pk])
        assert asked("UPDATE teams_member SET role = 'owner' RETURNING id") == []


def test_whoever_counts_due_work_sees_the_queues_and_nothing_else(cast):
    queues = {"mail.letter", "jobs.job", "jobs.round"}
    for label in queues | {"leads.lead"}:
        row_in(TABLES[label], cast.team)
    with locked(), as_watcher():
        seen = {
            label for label, m in TABLES.items() if asked(f"SELECT id FROM {m._meta.db_table}")
        }
        assert seen == queues
        assert asked("UPDATE mail_letter SET attempts = 0 RETURNING id") == []


@pytest.mark.parametrize("label", ["followups.feed", "discovery.sharedtakeaway"])
def test_a_token_opens_its_own_row_to_be_read(cast, label):
    table = TABLES[label]._meta.db_table
    one, other = (row_in(TABLES[label], cast.team, token=token) for token in ("a", "b"))
    assert other.pk
    with locked(), as_bearer("a"):
        assert asked(f"SELECT id FROM {table}") == [one.pk]
        assert asked(f"DELETE FROM {table} RETURNING id") == []
        assert asked("SELECT id FROM teams_member") == []


def test_the_role_of_the_web_is_nobody_of_consequence(settings):
    row = "SELECT rolsuper OR rolbypassrls OR rolcreaterole OR rolcreatedb"
    assert asked(f"{row} FROM pg_roles WHERE rolname = %s", settings.APP_ROLE) == [False]
    owns = "SELECT relname FROM pg_class WHERE relowner = to_regrole(%s)"
    assert asked(owns, settings.APP_ROLE) == []
    for forbidden in ("ALTER TABLE leads_lead DISABLE ROW LEVEL SECURITY", "TRUNCATE leads_lead"):
        with locked(), pytest.raises(Error), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(forbidden)
